"""Replies of which nothing more was heard: the carrier may never have fetched them.

A reply travels in our answer to the webhook. If the process died before the answer left, the row stands and nobody was
texted. So every reply is looked at once, when it is old enough that a report should have come; one without a report
joins the outbox as attempted: it is looked up at the carrier, and sent only when the carrier does not know it. The
same sweep marks texts of ours whose job was cancelled before they went out.
"""

from __future__ import annotations

import datetime as dt

from sqlmodel import Session, col, select

from guide_service import jobs
from guide_service.followup.work import Work
from guide_service.outbox import SEND_TEXT, SENDING
from guide_service.records import Job, Message

KIND = "sweep_replies"
EVERY = dt.timedelta(minutes=5)
SILENT_AFTER = dt.timedelta(minutes=15)
"""The carrier gives a webhook 15 s with all its retries; reports follow within minutes (common practice)."""
TOO_LATE = dt.timedelta(hours=24)
"""An answer this old is no answer any more."""
BATCH = 500
REPLIED = "replied"
"""Status of a reply that was given to the carrier in the answer to its webhook."""


def sweep_replies(work: Work) -> None:
    """Goes by real time, since reports do. The mark of the last sweep travels in the payload."""
    real_now, now = dt.datetime.now(dt.UTC), work.service.clock.now()
    up_to = first_id_at(real_now - SILENT_AFTER)
    after = max(int(work.job.payload.get("after", 0)), first_id_at(real_now - TOO_LATE))
    with work.settling() as session:
        silent = _silent(session, after, up_to, now)
        for message in silent:
            message.status = "attempted"
            payload, key = {"message": message.id}, f"send:{message.id}"
            jobs.enqueue(session, SEND_TEXT, key=key, payload=payload, run_at=now, now=now, replace=False)
        _mark_taken_back(session, after, up_to)
        full = len(silent) == BATCH
        work.again(session, now if full else now + EVERY, after=silent[-1].id if full else up_to)


def _silent(session: Session, after: int, up_to: int, now: dt.datetime) -> list[Message]:
    window = (col(Message.id) > after, col(Message.id) <= up_to, col(Message.at) >= now - TOO_LATE)
    unheard = (Message.direction == "out", col(Message.carrier_sid).is_(None))
    replies = (Message.origin == "reply", Message.status == REPLIED)
    query = select(Message).where(*window, *unheard, *replies).order_by(col(Message.id)).limit(BATCH)
    return list(session.exec(query.with_for_update(skip_locked=True)))


def _mark_taken_back(session: Session, after: int, up_to: int) -> None:
    """A job lives until its text is settled: one without was taken back (a report may still correct it)."""
    unsent = (Message.direction == "out", Message.origin != "reply", col(Message.status).in_(("waiting", "attempted")))
    window = (col(Message.id) > after, col(Message.id) <= up_to)
    rows = session.exec(select(Message).where(*window, *unsent)).all()
    if rows:
        live = select(Job.payload).where(col(Job.kind).in_(SENDING), col(Job.state).in_(("ready", "running", "dead")))
        held = {payload.get("message") for payload in session.exec(live)}
        for row in rows:
            row.status = row.status if row.id in held else "canceled"


def first_id_at(real: dt.datetime) -> int:
    """Ids of rows begin with the real instant they were made (``records.base.new_id``)."""
    return int(real.timestamp() * 1_000) << 22
