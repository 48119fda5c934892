"""Where the county's meters are, as an agent may see it: which are out, and which of them are overdue."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from sqlalchemy import ColumnElement, func
from sqlmodel import Session, col, select

from guide_service.console.scope import in_scope
from guide_service.county import County
from guide_service.records import Agent, Household, Loan


def meters_out(session: Session, county: County, agent: Agent) -> Sequence[tuple[Loan, Household]]:
    """The longest overdue first."""
    query = select(Loan, Household).where(*_mine(county, agent)).order_by(col(Loan.due_on), col(Loan.id))
    return session.exec(query).all()


def count_overdue(session: Session, county: County, agent: Agent, today: dt.date) -> int:
    query = select(func.count()).select_from(Loan).where(*_mine(county, agent), col(Loan.due_on) < today)
    return session.exec(query).one()


def _mine(county: County, agent: Agent) -> tuple[ColumnElement[bool], ...]:
    household = col(Household.id) == col(Loan.household_id)
    return household, col(Loan.returned_on).is_(None), in_scope(agent, county)
