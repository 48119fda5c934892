"""The list of what waits for a person: one query, in the order in which it should be answered."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import func
from sqlmodel import Session, col, select
from sqlmodel.sql.expression import Select

from guide_service.console.scope import in_scope
from guide_service.county import County
from guide_service.records import Agent, Contact, Escalation, Household, Message

PAGE = 60
LOOK_BACK = 20
"""Texts of one household among which its last words are looked for."""
OPEN = ("waiting", "claimed")
SETTLED = "settled"


@dataclass(frozen=True, slots=True)
class Filters:
    """What stands in the address of the list; empty = no filter."""

    state: str = ""
    reason: str = ""
    area: str = ""
    page: int = 1

    def chosen(self) -> bool:
        return bool(self.state or self.reason or self.area)


@dataclass(frozen=True, slots=True)
class Row:
    escalation: Escalation
    household: Household
    contact: Contact | None
    claimed_by: Agent | None
    words: str
    """What the person said, in words: the last text that is more than a number."""


@dataclass(frozen=True, slots=True)
class WaitingList:
    rows: tuple[Row, ...]
    more: bool
    waiting: int
    """Escalations that nobody has claimed, whatever the filters."""
    longest: dt.datetime | None
    """Since when the first of them waits."""


def waiting_list(session: Session, county: County, agent: Agent, filters: Filters) -> WaitingList:
    found = session.exec(_rows(county, agent, filters)).all()
    count, longest = _unclaimed(session, county, agent)
    said = last_words(session, [escalation for escalation, *_ in found])
    rows = tuple(Row(*each, words=said[each[0].id]) for each in found[:PAGE])
    return WaitingList(rows, len(found) > PAGE, count, longest)


def _rows(county: County, agent: Agent, filters: Filters) -> Select[Escalation, Household, Contact, Agent]:
    states = (filters.state,) if filters.state else OPEN
    query = (
        select(Escalation, Household, Contact, Agent)
        .join(Household, col(Household.id) == col(Escalation.household_id))
        .outerjoin(Contact, col(Contact.id) == col(Escalation.contact_id))
        .outerjoin(Agent, col(Agent.id) == col(Escalation.claimed_by))
        .where(in_scope(agent, county), col(Escalation.state).in_(states))
        .limit(PAGE + 1)
        .offset((filters.page - 1) * PAGE)
    )
    if filters.reason:
        query = query.where(col(Escalation.reason) == filters.reason)
    if filters.area:
        query = query.where(col(Household.area) == filters.area)
    if filters.state == SETTLED:
        return query.order_by(col(Escalation.settled_at).desc())
    return query.order_by(col(Escalation.urgency), col(Escalation.opened_at), col(Escalation.id))


def _is_wordy(text: str | None) -> bool:
    """More than the number of an offered answer."""
    return sum(character.isalpha() for character in text or "") > 2


def last_words(session: Session, escalations: Sequence[Escalation]) -> dict[int, str]:
    """What the person said, by escalation: for those that end in "1", the newest text before it that says something."""
    homes = {each.household_id for each in escalations if each.words and not _is_wordy(each.words)}
    newest = (
        select(Message.household_id, Message.id, Message.body)
        .where(col(Message.household_id).in_(homes), Message.direction == "in")
        .order_by(col(Message.id).desc())
        .limit(LOOK_BACK * max(len(homes), 1))
    )
    texts = session.exec(newest).all() if homes else []
    return {
        each.id: next((body or "" for home, key, body in texts if _fits(each, home, key, body)), each.words)
        for each in escalations
    }


def _fits(escalation: Escalation, home: int | None, key: int, body: str | None) -> bool:
    mine = home == escalation.household_id and key <= (escalation.message_id or key)
    return mine and not _is_wordy(escalation.words) and bool(escalation.words) and _is_wordy(body)


def _unclaimed(session: Session, county: County, agent: Agent) -> tuple[int, dt.datetime | None]:
    query = (
        select(func.count(), func.min(Escalation.opened_at))
        .select_from(Escalation)
        .join(Household, col(Household.id) == col(Escalation.household_id))
        .where(in_scope(agent, county), col(Escalation.state) == "waiting")
    )
    count, longest = session.exec(query).one()
    return count, longest
