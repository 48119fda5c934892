"""What follows a call: it is over, or the caller left word for a person."""

from __future__ import annotations

from sqlalchemy import Connection, Table, select, update

from guide_service.calls import line as rows
from guide_service.calls.answering import Ring, step_of
from guide_service.calls.prompt import Utterance
from guide_service.carrier.phone_numbers import SenderKind
from guide_service.database import writing
from guide_service.records import Contact, Membership
from guide_service.wiring import Service

OVER = frozenset({"completed", "busy", "no-answer", "failed", "canceled"})
"""The carrier's words for a call that is no more."""
_contact: Table = Contact.__table__  # type: ignore[attr-defined]
_membership: Table = Membership.__table__  # type: ignore[attr-defined]


def call_ended(service: Service, sid: str, status: str) -> None:
    """Nothing needs to be saved: every step was. A phone without a number is a member of no house any longer."""
    if status not in OVER:
        return
    with writing(service.engine) as session:
        row = rows.ended(session.connection(), sid, status, service.clock.now())
        if row is not None and row.contact_id is not None:
            _leave(session.connection(), service, row.contact_id)


def word_left(service: Service, ring: Ring, step: int, recording: str, seconds: int) -> Utterance:
    """The address of the recording is kept with the conversation, for agents; a person is asked to listen to it."""
    call = step_of(service, ring, step)
    if isinstance(call, Utterance):
        return call
    return call.word_left(recording if recording.startswith("https://") and seconds > 0 else "")


def _leave(connection: Connection, service: Service, contact_id: int) -> None:
    kind = connection.execute(select(_contact.c.kind).where(_contact.c.id == contact_id)).scalar()
    if kind == SenderKind.CALL:
        mine = (_membership.c.contact_id == contact_id, _membership.c.by_code, _membership.c.ended_at.is_(None))
        connection.execute(update(_membership).where(*mine).values(ended_at=service.clock.now()))
