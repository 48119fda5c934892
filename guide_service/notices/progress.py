"""How far a notice has come: every row is counted under exactly one word."""

from __future__ import annotations

import datetime as dt
from collections import Counter

from sqlalchemy import func
from sqlmodel import Session, col, select

from guide_service.carrier.delivery import FAILED
from guide_service.county_rules import Hours
from guide_service.notices.handing_over import quiet_zones
from guide_service.records import Contact, Message, Notice, NoticeRecipient

COUNTED = ("queued", "held", "sent", "delivered", "failed", "opted_out", "left", "stopped", "no_text", "no_voice")
"""In the order in which they are shown."""


def progress(session: Session, notice: Notice, hours: Hours, now: dt.datetime) -> dict[str, int]:
    gone = col(Contact.opted_out_at).is_not(None)
    key = (NoticeRecipient.state, NoticeRecipient.zone, Message.status, gone)
    query = (
        select(*key, func.count())  # type: ignore[call-overload]
        .select_from(NoticeRecipient)
        .outerjoin(Message, col(Message.id) == col(NoticeRecipient.message_id))
        .outerjoin(Contact, col(Contact.id) == col(NoticeRecipient.contact_id))
        .where(NoticeRecipient.notice_id == notice.id)
        .group_by(*key)
    )
    rows = session.execute(query).all()
    quiet = quiet_zones({zone for _state, zone, *_ in rows}, hours, now)
    found: Counter[str] = Counter()
    stopped = notice.state == "stopped"
    for state, zone, status, opted_out, count in rows:
        found[counted_as(state, zone in quiet, status, opted_out, stopped)] += count
    return {name: found[name] for name in COUNTED}


def in_line(counts: dict[str, int]) -> bool:
    """Whether there is anything left that stopping would take back."""
    return counts["queued"] + counts["held"] > 0


def counted_as(state: str, quiet: bool, status: str | None, opted_out: bool, stopped: bool = False) -> str:
    """The one word for a recipient. ``status`` is None when its text is not written, or has been forgotten.

    ``stopped``: the notice was, so that a text which is taken back after that was taken back by it.
    """
    if state == "queued":
        return "held" if quiet else "queued"
    if state != "handed":
        return state
    if status == "waiting":
        return "held" if quiet else "queued"
    if status == "canceled":
        return "opted_out" if opted_out else "stopped" if stopped else "failed"
    if status in ("delivered", "read"):
        return "delivered"
    return "failed" if status in FAILED else "sent"
