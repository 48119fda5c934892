"""A notice to 10,000 phones sent in full, from half an hour before the quiet of the evening to the next morning.

The number's rate is out of the way, so the rate that is measured is the service's own with one worker. Halfway some
hundred people opt out; the clock of the service goes on a little with every job, so that the quiet falls into the
middle of the sending, and in leaps when nothing is due.
"""

from __future__ import annotations

import datetime as dt
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import update
from sqlmodel import col, select

from guide_service.clock import FixedClock
from guide_service.database import reading, writing
from guide_service.followup.quiet_hours import LAST_CALL
from guide_service.followup.worker import Worker
from guide_service.outbox import SEND_MANY, cancel_texts_to
from guide_service.records import Contact, Job, NoticeRecipient
from guide_service.wiring import Service
from tests.notices.crowd import add_homes, draft, start, stored

STARTS = dt.datetime(2027, 3, 16, 0, 28, tzinfo=dt.UTC)
"""20:28 in Larkwater County."""
EVENING_SECONDS, IN_THE_EVENING = 1_800, 0.8
"""Until the quiet begins, and the part of the texts that the clock leaves for it."""
LEAP, EVENING = dt.timedelta(minutes=5), dt.timedelta(hours=2)
OPT_OUTS = 300
QUIET_FROM, QUIET_UNTIL = dt.time(21), dt.time(8)


@dataclass
class Sent:
    """What went out: to whom, and when by the service's clock."""

    texts: list[str] = field(default_factory=list)
    at: list[dt.datetime] = field(default_factory=list)
    working_seconds: float = 0.0


def in_full(service: Service, phones: int) -> list[dict[str, Any]]:
    """Rows of the benchmark; ``service`` has a ``FixedClock`` and a sender that only notes."""
    clock: FixedClock = service.clock  # type: ignore[assignment]
    clock.at = STARTS
    add_homes(service, phones)
    notice = draft(service)
    start(service, notice)
    told, step = Sent(), EVENING_SECONDS / (phones * IN_THE_EVENING)
    _work(service, notice, told, step, phones // 2)
    gone = _opt_out(service, notice)
    _work(service, notice, told, step, phones)
    late = [at for at in told.at if _is_quiet(at)]
    again = [body for body, times in Counter(told.texts).items() if times > 1]
    evening = sum(at - STARTS < EVENING for at in told.at)
    over_night = 0 < evening < len(told.texts)
    return [
        _row("whole send of 10,000: worker at work [s]", round(told.working_seconds, 1)),
        _row("whole send of 10,000: texts a second, one worker", round(len(told.texts) / told.working_seconds, 1)),
        _row("... before the quiet / after it", f"{evening} / {len(told.texts) - evening}", "both", over_night),
        _row("... in quiet hours", len(late), 0, not late),
        _row("... to the same phone twice", len(again), 0, not again),
        _row("... after an opt-out", len(gone & set(told.texts)), 0, not gone & set(told.texts)),
        _row("... all others reached", len(told.texts), phones - len(gone), len(told.texts) == phones - len(gone)),
    ]


def _work(service: Service, notice: int, told: Sent, step: float, goal: int) -> None:
    """Until so many are out, or nothing is left of the notice."""
    worker, clock = Worker(service, "bench", threading.Event()), service.clock
    while len(told.texts) < goal:
        before = time.perf_counter()
        busy = worker.work_once()
        told.working_seconds += time.perf_counter() - before
        _note(service, told)
        if busy:
            clock.advance(seconds=step)  # type: ignore[attr-defined]
        elif _is_over(service, notice):
            return
        else:
            clock.at += LEAP if _is_quiet(clock.now() + LAST_CALL) else dt.timedelta(seconds=1)  # type: ignore[attr-defined]


def _note(service: Service, told: Sent) -> None:
    sent = service.sender.sent  # type: ignore[attr-defined]
    for text in sent[len(told.texts) :]:
        told.texts.append(text.to)
        told.at.append(service.clock.now())


def _opt_out(service: Service, notice: int) -> set[str]:
    """Of those who have not been texted yet, some say STOP; what stood in the outbox for them is taken back."""
    with writing(service.engine) as session:
        mine = (NoticeRecipient.notice_id == notice, NoticeRecipient.state != "sent")
        handed = select(NoticeRecipient.contact_id).where(*mine).order_by(col(NoticeRecipient.id).desc())
        ids = list(session.exec(handed.limit(OPT_OUTS)))
        session.execute(update(Contact).where(col(Contact.id).in_(ids)).values(opted_out_at=service.clock.now()))
        for contact_id in ids:
            cancel_texts_to(session, contact_id)
        people = session.exec(select(Contact).where(col(Contact.id).in_(ids))).all()
        return {service.sealer.open(person.phone_sealed, person.key_id) for person in people}


def _is_over(service: Service, notice: int) -> bool:
    """The notice has been handed over, and nothing of it waits any more."""
    if stored(service, notice).state != "done":
        return False
    with reading(service.engine) as session:
        left = select(Job.id).where(Job.kind == SEND_MANY, col(Job.state).in_(("ready", "running"))).limit(1)
        return session.exec(left).first() is None


def _is_quiet(at: dt.datetime) -> bool:
    local = at.astimezone(ZoneInfo("America/New_York"))
    return not QUIET_UNTIL <= local.time() < QUIET_FROM


def _row(name: str, value: object, target: object = None, holds: bool | None = None) -> dict[str, Any]:
    return {"name": f"notice: {name}", "value": value, "target": target, "holds": holds}
