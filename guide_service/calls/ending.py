"""What follows a call: it is over, or the caller left word for a person."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import Connection, Table, select, update
from sqlmodel import Session

from guide_service.calls import line as rows
from guide_service.calls import moves
from guide_service.calls.answering import step_of
from guide_service.calls.call import Ring
from guide_service.calls.placing import BY_CALL, MOST_RINGS, TRY_AGAIN_AFTER
from guide_service.calls.prompt import Utterance
from guide_service.carrier.phone_numbers import SenderKind
from guide_service.database import writing
from guide_service.followup.delivery_reports import send_again
from guide_service.followup.quiet_hours import next_allowed
from guide_service.outbox import zone_of
from guide_service.records import Contact, Membership, Message
from guide_service.wiring import Service

OVER = frozenset({"completed", "busy", "no-answer", "failed", "canceled"})
"""The carrier's words for a call that is no more."""
_contact: Table = Contact.__table__  # type: ignore[attr-defined]
_membership: Table = Membership.__table__  # type: ignore[attr-defined]


def call_ended(service: Service, sid: str, status: str, ours: int | None = None) -> None:
    """Nothing needs to be saved: every step was. A phone without a number is a member of no house any longer; a call
    of ours that nobody took, or that nobody gave a key in, is made once more."""
    if status not in OVER:
        return
    with writing(service.engine) as session:
        row = rows.ended(session.connection(), sid, status, service.clock.now(), ours)
        if row is None:
            return
        if row.contact_id is not None:
            _leave(session.connection(), service, row.contact_id)
        if row.message_id is not None:
            _brought(session, service, row.message_id, heard=bool((row.held or {}).get("told")))


def _brought(session: Session, service: Service, message_id: int, heard: bool) -> None:
    """Heard, or to be brought once more: nobody was there, or it was put off."""
    message = session.get(Message, message_id, with_for_update=True)
    if message is None or message.status in ("delivered", "canceled"):
        return
    message.status, message.status_at = "delivered" if heard else "undelivered", dt.datetime.now(dt.UTC)
    session.add(message)
    if not heard and message.attempts < MOST_RINGS and _still_wants_calls(session, message):
        zone = zone_of(session, service, message.household_id)
        at = next_allowed(service.clock.now() + TRY_AGAIN_AFTER, zone, service.county.hours)
        send_again(session, service, message, at)


def _still_wants_calls(session: Session, message: Message) -> bool:
    contact = session.get_one(Contact, message.contact_id)
    return contact.channel == BY_CALL and contact.opted_out_at is None


def word_left(service: Service, ring: Ring, step: int, recording: str, seconds: int) -> Utterance:
    """The address of the recording is kept with the conversation, for agents; a person is asked to listen to it."""
    call = step_of(service, ring, step)
    if isinstance(call, Utterance):
        return call
    return moves.word_left(call, recording if recording.startswith("https://") and seconds > 0 else "")


def _leave(connection: Connection, service: Service, contact_id: int) -> None:
    kind = connection.execute(select(_contact.c.kind).where(_contact.c.id == contact_id)).scalar()
    if kind == SenderKind.CALL:
        mine = (_membership.c.contact_id == contact_id, _membership.c.by_code, _membership.c.ended_at.is_(None))
        connection.execute(update(_membership).where(*mine).values(ended_at=service.clock.now()))
