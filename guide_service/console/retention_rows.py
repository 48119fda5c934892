"""What is kept for how long, and when the worker last applied it, as rows of a page."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from sqlmodel import Session, select

from guide_service.console.catalogue import N_, gettext
from guide_service.followup.retention import ENDED_SESSIONS_DAYS, REFUSED_SIGN_INS_DAYS, SETTLED_JOBS_DAYS
from guide_service.records import RetentionStep
from guide_service.wiring import Service

DAYS = N_("%(days)s days")
LATE = dt.timedelta(days=2)
"""It is applied once a day: an older one means that no worker does it."""


@dataclass(frozen=True, slots=True)
class Kept:
    what: str
    how_long: str
    step: RetentionStep | None
    """None: nothing removes it, or it was never applied yet."""
    applied: bool = True
    """Whether the worker applies it at all."""


def kept(session: Session, service: Service) -> list[Kept]:
    done = {step.name: step for step in session.exec(select(RetentionStep))}
    times = service.county.retention
    with_bodies = gettext("with the words of the texts")
    with_texts = gettext("as long as the rows of texts")
    decided = gettext("until the day that the decision named")
    rest = gettext("jobs %(jobs)s days, ended sign-ins %(sessions)s, refused ones %(refused)s") % {
        "jobs": SETTLED_JOBS_DAYS, "sessions": ENDED_SESSIONS_DAYS, "refused": REFUSED_SIGN_INS_DAYS,
    }  # fmt: skip
    applied = (
        (gettext("Words of texts that came in, and what was understood"), _days(times.inbound_body_days), "bodies"),
        (gettext("Last words beside what was settled"), with_bodies, "words"),
        (gettext("Links of pictures"), _days(times.picture_link_days), "picture_links"),
        (gettext("Rows of texts, with the carrier's id"), _days(times.carrier_row_days), "texts"),
        (gettext("Who a notice went to"), with_texts, "recipients"),
        (gettext("Readings of a deleted file that the rules keep"), decided, "kept_readings"),
        (gettext("Settled jobs, ended sign-ins, wrong tries"), rest, "the_rest"),
    )
    stays = gettext("as long as the file: a request to delete is decided by the county's rule")
    rows = [Kept(what, how_long, done.get(step)) for what, how_long, step in applied]
    for what in (gettext("Readings, verdicts, policy versions"), gettext("Phone numbers, sealed"), gettext("Audit")):
        rows.append(Kept(what, stays, None, applied=False))
    rows.append(Kept(gettext("That a number said STOP, as a keyed hash"), gettext("for good"), None, applied=False))
    return rows


def _days(days: int) -> str:
    return gettext(DAYS) % {"days": days}


def is_late(rows: list[Kept], now: dt.datetime) -> bool:
    """Whether it was applied once and has not been for days."""
    last = [row.step.last_at for row in rows if row.step is not None]
    return bool(last) and now - max(last) > LATE
