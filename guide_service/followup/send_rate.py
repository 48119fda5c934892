"""No faster than the number may send: a bucket of segments in the database, shared by all workers, in real time.

A worker books its segments at once and waits until the bucket is no longer in debt: whoever comes next waits behind
it, and nobody has to try again. A bucket filled in the future holds the queue (the carrier refuses our account).
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, select

from guide_service.records import SendBucket

LONGEST_BOOKING = 5.0
"""A worker that would have to wait longer [s] does something else meanwhile."""
LONGEST_BOOKING_OF_MANY = 1.0
"""The same for a text of a notice: an alarm must not wait for a worker that waits for one of thousands."""

_table: Any = SendBucket.__table__  # type: ignore[attr-defined]
_NEW = {
    "sqlite": sqlite.insert(_table).on_conflict_do_nothing(),
    "postgresql": postgresql.insert(_table).on_conflict_do_nothing(),
}


def book(
    session: Session,
    number: str,
    segments: int,
    per_second: float,
    now: dt.datetime,
    longest: float = LONGEST_BOOKING,
) -> tuple[float, bool]:
    """Seconds to wait, and whether the segments were booked (not if the wait is longer than ``longest``)."""
    bucket = _locked(session, number, per_second, now)
    held = max(0.0, (bucket.filled_at - now).total_seconds())
    available = _available(bucket, per_second, now)
    wait = held + max(0.0, -available) / per_second
    if wait > longest:
        return wait, False
    bucket.available = available - segments
    bucket.filled_at = max(now, bucket.filled_at)
    return wait, True


def hold(session: Session, number: str, per_second: float, now: dt.datetime, seconds: float) -> None:
    """Nothing is sent for so long, by no worker."""
    bucket = _locked(session, number, per_second, now)
    until = now + dt.timedelta(seconds=seconds)
    if until > bucket.filled_at:
        bucket.available, bucket.filled_at = min(_available(bucket, per_second, now), 0.0), until


def _available(bucket: SendBucket, per_second: float, now: dt.datetime) -> float:
    """At most one second's worth (and never less than one segment) is saved up."""
    gained = max(0.0, (now - bucket.filled_at).total_seconds()) * per_second
    return min(max(per_second, 1.0), bucket.available + gained)


def _locked(session: Session, number: str, per_second: float, now: dt.datetime) -> SendBucket:
    connection = session.connection()
    full = {"number": number, "available": max(per_second, 1.0), "filled_at": now}
    connection.execute(_NEW[connection.dialect.name], full)
    return session.exec(select(SendBucket).where(SendBucket.number == number).with_for_update()).one()
