"""Texts that we start: a row and a job in the transaction of their cause; the worker sends them at their time.

A text waits in ``message.status`` as ``waiting``; ``attempted`` is written before the carrier is asked. From then on
``status_at`` is real time, as all reports of the carrier are.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from zoneinfo import ZoneInfo

from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service import jobs
from guide_service.followup.quiet_hours import next_allowed
from guide_service.records import Contact, Household, Message
from guide_service.wiring import Service
from guide_service.wording.sms import SmsText

MOST_TEXTS = 8
"""Texts of one occasion: their jobs have keys of their own."""
ANSWERED_WITHIN = {"agent": dt.timedelta(hours=24), "reply": dt.timedelta(hours=1)}
"""Somebody who wrote this recently is answered at any hour. Our choice."""
BY_CHOICE = ("started", "agent", "many")
"""Origins of what goes by call to a phone that chose calls; alarms are texts."""
FIRST_IN_LINE = dt.timedelta(days=1)
"""Agents' texts are due earlier by this, so that they overtake a morning's reminders."""
SEND_TEXT = "send_text"
SEND_MANY = "send_many"
"""The same for the texts of a notice: a kind of its own, since it goes last (``jobs.LAST_KINDS``)."""
SENDING = (SEND_TEXT, SEND_MANY)
UNSENT = ("waiting", "attempted")
"""Of a text that the carrier has not said to have."""


def start_text(
    session: Session,
    service: Service,
    *,
    contact: Contact,
    household_id: int | None,
    texts: Sequence[SmsText],
    origin: str,
    send_at: dt.datetime | None,
    key: str | None,
    agent_id: int | None = None,
    by: str | None = None,
) -> list[Message]:
    """Rows and jobs of ``texts``. Origins: ``started``, ``agent``, ``alarm`` (to agents: at any hour), ``many``
    (a notice: after everything else).

    What is started, and what an agent writes, goes by the channel that the phone chose (or ``by``): a text, or a call.
    ``send_at`` None means as soon as it is allowed. ``key`` names the occasion: texts of the same one that still wait
    are taken back, and ``cancel_texts`` takes these back.
    """
    if len(texts) > MOST_TEXTS:
        raise ValueError(f"{len(texts)} texts at once; at most {MOST_TEXTS}")
    if key:
        cancel_texts(session, key)
    now = service.clock.now()
    due = _due(session, service, contact, household_id, origin, send_at, now)
    channel = by or (contact.channel if origin in BY_CHOICE else "sms")
    if channel == "call" and texts:  # one ring for one occasion: the call says all of it
        texts = [replace(texts[0], body="\n".join(text.body for text in texts))]
    rows = [_row(contact, household_id, text, origin, agent_id, now, channel) for text in texts]
    session.add_all(rows)
    for number, row in enumerate(rows):
        put_in_line(session, row, job_key(key, number) if key else f"send:{row.id}", due, now)
    return rows


def put_in_line(session: Session, message: Message, key: str, run_at: dt.datetime, now: dt.datetime) -> None:
    """The job that sends this row. Texts that an agent wrote or waits for go before all others that are due."""
    first = message.origin in ("agent", "alarm")
    run_at = run_at - FIRST_IN_LINE if first and run_at <= now else run_at
    kind = SEND_MANY if message.origin == "many" else SEND_TEXT
    jobs.enqueue(session, kind, key=key, payload={"message": message.id}, run_at=run_at, now=now)


def cancel_texts(session: Session, *keys: str) -> int:
    """Takes back what was started under these keys and not yet sent."""
    taken = jobs.cancelled(session, *(job_key(key, number) for key in keys for number in range(MOST_TEXTS)))
    _mark_canceled(session, [payload["message"] for kind, payload in taken if kind in SENDING])
    return len(taken)


def cancel_texts_to(session: Session, contact_id: int) -> int:
    """Takes back all that still waits to be sent to this phone: it opted out."""
    session.flush()
    waiting = (Message.contact_id == contact_id, Message.direction == "out", col(Message.status) == "waiting")
    ids = session.exec(select(Message.id).where(*waiting)).all()
    take_back(session, ids)
    return len(ids)


def leave_calls(session: Session, contact_id: int) -> None:
    """This phone wants no more calls: what waits to be told by one is taken back, an agent's words go as a text."""
    session.flush()
    waiting = (Message.contact_id == contact_id, Message.channel == "call", col(Message.status) == "waiting")
    calls = session.exec(select(Message).where(*waiting, Message.direction == "out")).all()
    for message in calls:
        if message.origin == "agent":
            message.channel = "sms"
    take_back(session, [message.id for message in calls if message.origin != "agent"])


def take_back(session: Session, ids: Sequence[int]) -> None:
    """These texts are not sent any more, as far as they still wait."""
    # jobs before messages, as the worker locks them; a job under a key of its own finds its text taken back
    jobs.cancel(session, *(f"send:{message_id}" for message_id in ids))
    _mark_canceled(session, ids)


def job_key(key: str, number: int) -> str:
    return key if number == 0 else f"{key}#{number}"


def zone_of(session: Session, service: Service, household_id: int | None) -> ZoneInfo:
    household = session.get(Household, household_id) if household_id else None
    return service.county.zone(household.area if household else None)


def may_be_sent_at_any_hour(origin: str, contact: Contact, now: dt.datetime) -> bool:
    """Alarms to agents, and answers to somebody who wrote lately."""
    if origin == "alarm":
        return True
    heard = contact.last_heard_at
    return origin in ANSWERED_WITHIN and heard is not None and now - heard <= ANSWERED_WITHIN[origin]


def _due(
    session: Session,
    service: Service,
    contact: Contact,
    household_id: int | None,
    origin: str,
    send_at: dt.datetime | None,
    now: dt.datetime,
) -> dt.datetime:
    due = max(send_at or now, now)
    if may_be_sent_at_any_hour(origin, contact, now):
        return due
    return next_allowed(due, zone_of(session, service, household_id), service.county.hours)


def _row(
    contact: Contact,
    household_id: int | None,
    text: SmsText,
    origin: str,
    agent_id: int | None,
    now: dt.datetime,
    channel: str,
) -> Message:
    return Message(
        contact_id=contact.id,
        household_id=household_id,
        direction="out",
        channel=channel,
        origin=origin,
        body=text.body,
        language=contact.language,
        at=now,
        segments=text.segments,
        encoding=text.encoding,
        texts=list(text.message_ids),
        agent_id=agent_id,
        status="waiting",
    )


def _mark_canceled(session: Session, message_ids: Sequence[int]) -> None:
    if message_ids:
        session.flush()
        waiting = (col(Message.id).in_(message_ids), col(Message.status) == "waiting")
        session.connection().execute(update(Message).where(*waiting).values(status="canceled"))
