"""Which households are silent, as queries: those that may be looked for, and how one stands just now."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from enum import StrEnum
from typing import Any

from sqlalchemy import ColumnElement, String, and_, cast, exists, func, literal, or_, select, text
from sqlmodel import Session, col

from guide_service.database import reading
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.records import Contact, Conversation, Escalation, Household, Job, Membership
from guide_service.records.job import LIVE
from guide_service.wiring import Service

SLICE = 500
WAITS_FOR_US = (EscalationReason.METER_WANTED, EscalationReason.DELETION, EscalationReason.LOST_FROM_SIGHT)
"""Routine for us, yet the household has been told to wait, or is on a list already."""


def _live_job(*names: str) -> ColumnElement[bool]:
    keys = [col(Job.key) == literal(f"{name}:") + cast(Household.id, String) for name in names]
    return exists(select(col(Job.id)).where(or_(*keys), text(LIVE)).correlate(Household))


_TAKEN_OVER = exists(
    select(col(Conversation.id))
    .where(col(Conversation.household_id) == Household.id, col(Conversation.taken_over_by).is_not(None))
    .correlate(Household)
)
_ASKED_OF_US = exists(
    select(col(Escalation.id))
    .where(
        col(Escalation.household_id) == Household.id,
        col(Escalation.state) != "settled",
        or_(col(Escalation.urgency) < Urgency.ROUTINE, col(Escalation.reason).in_(WAITS_FOR_US)),
    )
    .correlate(Household)
)
_SETTLED = (
    select(func.max(col(Escalation.settled_at)))
    .where(col(Escalation.household_id) == Household.id)
    .correlate(Household)
    .scalar_subquery()
)
_HELD = or_(_TAKEN_OVER, _ASKED_OF_US)
_OVER = or_(
    col(Household.deleted_at).is_not(None),
    col(Household.merged_into).is_not(None),
    col(Household.stage) == "afterwards",
    _live_job("check", "look_back"),
)


class Stands(StrEnum):
    SILENT = "silent"
    HELD = "held"
    """It waits for us, or an agent talks to it: not now."""
    OVER = "over"
    """It is followed up in another way, or needs none."""


def standing(session: Session, household: int) -> Stands:
    is_held, is_over = _HELD.label("is_held"), _OVER.label("is_over")
    row = session.connection().execute(select(is_held, is_over).where(col(Household.id) == household)).one()
    return Stands.OVER if row.is_over else Stands.HELD if row.is_held else Stands.SILENT


def candidates(service: Service) -> Iterator[Any]:
    """Phones of households that were silent for the shortest of the county's times, slice by slice."""
    rules = service.county.silence
    before = service.clock.now() - dt.timedelta(days=min(rules.answer, rules.work, rules.drying, rules.others) - 1)
    columns: tuple[Any, ...] = (
        col(Household.id), Household.area, Household.stage, Household.facts, Household.updated_at,
        col(Contact.id).label("contact_id"), Contact.last_heard_at, Conversation.state, _SETTLED.label("settled"),
    )  # fmt: skip
    query = (
        select(*columns)
        .select_from(Household)
        .join(Membership, (col(Membership.household_id) == Household.id) & col(Membership.ended_at).is_(None))
        .join(Contact, col(Contact.id) == Membership.contact_id)
        .join(
            Conversation,
            (col(Conversation.contact_id) == Contact.id) & (col(Conversation.household_id) == Household.id),
        )
        .where(
            col(Household.updated_at) < before,
            col(Household.unanswered) == 0,
            col(Contact.consented_at).is_not(None),
            col(Contact.opted_out_at).is_(None),
            col(Contact.undeliverable).is_(None),
            ~_OVER,
            ~_HELD,
            ~_live_job("nudge"),
        )
        .order_by(col(Household.updated_at), col(Household.id), col(Conversation.updated_at).desc())
        .limit(SLICE)
    )
    last: tuple[dt.datetime, int] | None = None
    while True:
        beyond = () if last is None else (_beyond(*last),)
        with reading(service.engine) as session:
            rows = session.connection().execute(query.where(*beyond)).all()
        yield from rows
        if len(rows) < SLICE:
            return
        last = (rows[-1].updated_at, rows[-1].id)


def _beyond(at: dt.datetime, household: int) -> ColumnElement[bool]:
    later = col(Household.updated_at) > at
    return or_(later, and_(col(Household.updated_at) == at, col(Household.id) > household))
