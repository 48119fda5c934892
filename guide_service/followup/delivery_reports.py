"""What the carrier reports about a text: in any order, more than once, sometimes before we know its id."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import update
from sqlmodel import Session, col, select
from sqlmodel.sql.expression import SelectOfScalar

from guide_service.carrier.delivery import FAILED, Action, later_of, policy_for
from guide_service.carrier.form import StatusReport
from guide_service.database import writing
from guide_service.followup.undelivered import give_up, next_try_allowed, opt_out
from guide_service.outbox import put_in_line
from guide_service.records import Contact, Message, NoticeRecipient
from guide_service.wiring import Service


def apply_status(service: Service, report: StatusReport) -> bool:
    """Whether the report said anything new about a text of ours."""
    with writing(service.engine) as session:
        message = _message_of(session, report)
        if message is None:
            return False
        # what we wrote ourselves ("attempted", "canceled" for a text taken back too late) gives way to any report
        known = message.status if message.carrier_sid else None
        status = later_of(known, report.status)
        if status is None or (status == known and message.carrier_sid == report.sid):
            return False
        message.carrier_sid, message.status, message.status_at = report.sid, status, dt.datetime.now(dt.UTC)
        if status == report.status and report.error_code:
            message.error_code = str(report.error_code)
        session.add(message)
        if status in FAILED:
            _failed(session, service, message, report.error_code or 0)
        return True


def _message_of(session: Session, report: StatusReport) -> Message | None:
    """By the carrier's id; a row that has none yet by our own id in the address of the report."""
    found = session.exec(_outbound().where(Message.carrier_sid == report.sid)).first()
    if found is not None or report.row_id is None or not report.row_id.isdigit():
        return found
    early = session.exec(_outbound().where(Message.id == int(report.row_id))).first()
    return early if early is not None and early.carrier_sid is None else None


def _outbound() -> SelectOfScalar[Message]:
    return select(Message).where(Message.direction == "out").with_for_update()


def _failed(session: Session, service: Service, message: Message, code: int) -> None:
    policy = policy_for(code)
    contact = session.get_one(Contact, message.contact_id)
    if policy.action is Action.MARK_OPTED_OUT:
        opt_out(session, service, contact)
        return
    again = None if contact.opted_out_at else next_try_allowed(session, service, message, policy, refused=False)
    if again is None:
        give_up(session, service, message, contact, policy, code)
        return
    send_again(session, service, message, again)


def send_again(session: Session, service: Service, message: Message, at: dt.datetime) -> Message:
    """A new row with the same words: the old one keeps its story, and late reports of it cannot touch the new one."""
    copied = ("contact_id", "household_id", "channel", "body", "language", "segments", "encoding", "texts", "agent_id")
    values = {name: getattr(message, name) for name in copied}
    origin = "started" if message.origin == "reply" else message.origin
    now = service.clock.now()
    row = Message(direction="out", origin=origin, at=now, status="waiting", attempts=message.attempts, **values)
    session.add(row)
    if origin == "many":
        ours = update(NoticeRecipient).where(col(NoticeRecipient.message_id) == message.id)
        session.connection().execute(ours.values(message_id=row.id))
    put_in_line(session, row, f"send:{row.id}", at, now)
    return row
