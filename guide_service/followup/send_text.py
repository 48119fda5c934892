"""Sends one text of ours, at most once wherever the carrier lets us know.

The carrier has no idempotency key. So the attempt is written and committed before it is asked; a row that is found
attempted and without the carrier's id (the answer was lost, or the worker died) is looked up first, and sent again only
when the carrier does not know it. No transaction is open while the carrier is asked.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from sqlmodel import Session, col, select

from guide_service import jobs
from guide_service.calls import placing
from guide_service.carrier.delivery import later_of, policy_for
from guide_service.carrier.form import status_address
from guide_service.carrier.sender import Accepted, Ambiguous, RateLimited, Refused, SendResult
from guide_service.database import reading, writing
from guide_service.followup import send_rate
from guide_service.followup.quiet_hours import next_allowed, validity_seconds
from guide_service.followup.undelivered import (
    MOST_ATTEMPTS,
    escalate_undeliverable,
    give_up,
    hold_queue,
    next_try_allowed,
)
from guide_service.followup.work import Work
from guide_service.outbox import UNSENT, may_be_sent_at_any_hour, zone_of
from guide_service.records import Contact, Job, Message, Notice, NoticeRecipient
from guide_service.wiring import Service

RING_SECONDS = 40
"""Long enough to come in from the yard; the carrier's own default is 60. Our choice."""
AT_ANY_HOUR_SECONDS = 3_600
"""How long the carrier may keep a text that may arrive at night. Our choice."""
LOOK_UP_AFTER = dt.timedelta(seconds=30)
"""A text whose answer was lost is looked up after this, so that the carrier's list can show it. Our choice."""
MOST_LOST_ANSWERS = 6
"""Answers lost in a row; then a person sees it. Our choice."""
RATE_LIMITED_SECONDS = 5.0
"""The least pause after "too many requests" (policy of code 20429)."""
_KNOWN_SIDS_DAYS = 3


@dataclass(frozen=True, slots=True)
class Attempt:
    number: str
    body: str
    validity: int
    wait: float
    call: int | None = None
    """Row of the call that brings it, where the phone chose calls."""


def send_text(work: Work) -> None:
    message_id = work.number("message")
    if _answer_was_lost(work, message_id) and _found_at_carrier(work, message_id):
        return
    attempt = _begin(work, message_id)
    if attempt is None:
        return
    if attempt.wait:
        work.pause(attempt.wait)
        if not _still_wanted(work, message_id):
            return
    result = _rung(work.service, attempt) if attempt.call else _texted(work.service, attempt, message_id)
    _end(work, message_id, result)


def _texted(service: Service, attempt: Attempt, message_id: int) -> SendResult:
    callback = status_address(service.settings.address, str(message_id))
    return service.sender.send_text(attempt.number, attempt.body, callback, attempt.validity)


def _rung(service: Service, attempt: Attempt) -> SendResult:
    voice = f"{service.settings.address.rstrip('/')}/carrier/voice"
    url, status = f"{voice}?call={attempt.call}", f"{voice}/status?call={attempt.call}"
    return service.sender.place_call(attempt.number, url, status, RING_SECONDS)


def bury(work: Work) -> None:
    """The job is dead: what it was to send is given up, and a person sees it."""
    with writing(work.service.engine) as session:
        message, _contact = _rows(session, work.number("message"))
        if message.carrier_sid is None and message.status in UNSENT:
            message.status = "failed"
            escalate_undeliverable(session, work.service, message, 0)


def _answer_was_lost(work: Work, message_id: int) -> bool:
    with reading(work.service.engine) as session:
        message = session.get(Message, message_id)
        return message is not None and message.status == "attempted" and message.carrier_sid is None


def _found_at_carrier(work: Work, message_id: int) -> bool:
    """Raises ``LookUpFailed``: the job fails and comes back, since not to know is no reason to send."""
    service = work.service
    with reading(service.engine) as session:
        message = session.get_one(Message, message_id)
        contact = session.get_one(Contact, message.contact_id)
        known = _sids_of_others(session, message)
        if message.channel == placing.BY_CALL:
            return placing.rung(session, message_id)
    number = service.sealer.open(contact.phone_sealed, contact.key_id)
    sid = service.sender.find_sent(number, message.body or "", written_at(message_id), str(message_id), known)
    if sid is None:
        return False
    _end(work, message_id, Accepted(sid, "queued", 0))
    return True


def written_at(row_id: int) -> dt.datetime:
    """The real instant at which a row was made (its id begins with it): no attempt of it can be older."""
    return dt.datetime.fromtimestamp((row_id >> 22) / 1_000, dt.UTC)


def _begin(work: Work, message_id: int) -> Attempt | None:
    """The attempt is written; or the job is settled otherwise: not now, not to this phone, not any more."""
    with writing(work.service.engine) as session:
        work.hold(session)
        message, contact = _rows(session, message_id)
        attempt = _attempt(work, session, message, contact) if _wanted(session, message, contact) else None
        if attempt is None:
            work.settle(session)
        return attempt


def _still_wanted(work: Work, message_id: int) -> bool:
    """Asked again after the wait in line, before the carrier hears of it: a STOP or a stopped notice came meanwhile?"""
    with writing(work.service.engine) as session:
        mine = jobs.held(session, work.job, work.worker)
        message, contact = _rows(session, message_id)
        wanted = mine and _wanted(session, message, contact)
        if mine and not wanted:
            work.settle(session)
        elif not mine and not _in_other_hands(session, work):
            message.status = "canceled"
        return wanted


def _wanted(session: Session, message: Message, contact: Contact) -> bool:
    if message.carrier_sid is not None or message.status not in UNSENT or not message.body:
        return False
    if message.origin == "many" and _notice_was_stopped(session, message):
        message.status = "canceled"
        return False
    given_up = contact.undeliverable if message.origin != "agent" else None  # an agent may try all the same
    if contact.opted_out_at is not None or given_up is not None:
        message.status, message.error_code = "canceled", given_up
        return False
    return True


def _notice_was_stopped(session: Session, message: Message) -> bool:
    """Also what the carrier put off, or whose answer was lost, goes out no more once its notice is stopped."""
    query = select(Notice.id).join(NoticeRecipient, col(NoticeRecipient.notice_id) == col(Notice.id))
    stopped = (NoticeRecipient.message_id == message.id, Notice.state == "stopped")
    return session.exec(query.where(*stopped).limit(1)).first() is not None


def _attempt(work: Work, session: Session, message: Message, contact: Contact) -> Attempt | None:
    service, now = work.service, work.service.clock.now()
    hours, zone = service.county.hours, zone_of(session, service, message.household_id)
    any_hour = may_be_sent_at_any_hour(message.origin, contact, now)
    allowed = now if any_hour else next_allowed(now, zone, hours)
    wait, booked = _book(service, session, message) if allowed == now else (0.0, False)
    if not booked:
        work.again(session, allowed + dt.timedelta(seconds=wait))
        return None
    message.status, message.attempts, message.status_at = "attempted", message.attempts + 1, dt.datetime.now(dt.UTC)
    validity = AT_ANY_HOUR_SECONDS if any_hour else validity_seconds(now, zone, hours)
    call = placing.prepare(session, service, message, contact) if message.channel == placing.BY_CALL else None
    number = service.sealer.open(contact.phone_sealed, contact.key_id)
    return Attempt(number, message.body or "", validity, wait, call)


def _book(service: Service, session: Session, message: Message) -> tuple[float, bool]:
    rate, number = service.county.hours.segments_per_second, service.settings.number
    longest = send_rate.LONGEST_BOOKING_OF_MANY if message.origin == "many" else send_rate.LONGEST_BOOKING
    return send_rate.book(session, number, max(message.segments, 1), rate, dt.datetime.now(dt.UTC), longest)


def _end(work: Work, message_id: int, result: SendResult) -> None:
    with writing(work.service.engine) as session:
        mine = jobs.held(session, work.job, work.worker)
        message, contact = _rows(session, message_id)
        again = _record(work.service, session, message, contact, result) if mine or _final(result) else None
        if again is not None and mine:
            work.again(session, again)
        elif mine:
            work.settle(session)
        elif not _final(result) and not _in_other_hands(session, work):
            message.status = "canceled"


def _final(result: SendResult) -> bool:
    return isinstance(result, Accepted)


def _in_other_hands(session: Session, work: Work) -> bool:
    """Another worker took the job over: what becomes of the text is its business now."""
    job = session.get(Job, work.job.id)
    return job is not None and job.state in ("ready", "running") and job.payload == work.job.payload


def _record(
    service: Service, session: Session, message: Message, contact: Contact, result: SendResult
) -> dt.datetime | None:
    """Writes the end of an attempt down; when to try again, if so."""
    if isinstance(result, Accepted):
        _accepted(message, result)
        return None
    if isinstance(result, Refused):
        return _refused(service, session, message, contact, result)
    if message.attempts >= (MOST_LOST_ANSWERS if _may_be_out(result) else MOST_ATTEMPTS):
        message.status = "failed"
        escalate_undeliverable(session, service, message, 0)
        return None
    now = service.clock.now()
    if isinstance(result, RateLimited):
        message.status = "waiting"
        pause = max(result.retry_after or 0.0, RATE_LIMITED_SECONDS)
        _hold(service, session, pause)
        return now + dt.timedelta(seconds=pause)
    if _may_be_out(result):
        return now + LOOK_UP_AFTER * message.attempts
    message.status = "waiting"
    return now + jobs.back_off(message.attempts)


def _may_be_out(result: SendResult) -> bool:
    return isinstance(result, Ambiguous) and result.may_be_out


def _accepted(message: Message, result: Accepted) -> None:
    # a report of the carrier may have been here first
    known = message.status if message.carrier_sid else None
    message.carrier_sid = message.carrier_sid or result.sid
    message.status = later_of(known, result.status) or "queued"
    message.status_at, message.error_code = dt.datetime.now(dt.UTC), None


def _refused(
    service: Service, session: Session, message: Message, contact: Contact, refused: Refused
) -> dt.datetime | None:
    policy = policy_for(refused.code, refused.http_status)
    message.error_code, message.status_at = str(refused.code), dt.datetime.now(dt.UTC)
    again = next_try_allowed(session, service, message, policy, refused=True)
    if again is None:
        message.status = "failed"
        give_up(session, service, message, contact, policy, refused.code)
        return None
    message.status = "waiting"
    if policy.holds_queue:
        hold_queue(session, service, message, refused.code)
    return again


def _hold(service: Service, session: Session, seconds: float) -> None:
    rate = service.county.hours.segments_per_second
    send_rate.hold(session, service.settings.number, rate, dt.datetime.now(dt.UTC), seconds)


def _rows(session: Session, message_id: int) -> tuple[Message, Contact]:
    message = session.get_one(Message, message_id, with_for_update=True)
    return message, session.get_one(Contact, message.contact_id)


def _sids_of_others(session: Session, message: Message) -> list[str]:
    lately = (int(written_at(message.id).timestamp() * 1_000) - _KNOWN_SIDS_DAYS * 86_400_000) << 22
    same_phone = (Message.contact_id == message.contact_id, col(Message.id) > lately, Message.id != message.id)
    found = session.exec(select(Message.carrier_sid).where(*same_phone, col(Message.carrier_sid).is_not(None)))
    return [sid for sid in found if sid]
