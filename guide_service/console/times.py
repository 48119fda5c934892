"""Times as agents read them, in their language: the household's local time, and how long something has waited."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from babel.dates import format_skeleton, format_time, format_timedelta

from guide_service.console.catalogue import locale


def local_time(at: dt.datetime, zone: ZoneInfo) -> str:
    return f"{day(at.astimezone(zone).date())}, {clock_time(at, zone)}"


def clock_time(at: dt.datetime, zone: ZoneInfo) -> str:
    return format_time(at.astimezone(zone), "short", tzinfo=zone, locale=locale())


def day(on: dt.date) -> str:
    return format_skeleton("MMMEd", on, locale=locale())


def long_day(on: dt.date) -> str:
    """With its year."""
    return format_skeleton("yMMMEd", on, locale=locale())


def short_day(on: dt.date) -> str:
    return format_skeleton("MMMd", on, locale=locale())


def how_long(since: dt.datetime, now: dt.datetime) -> str:
    """ "3 hours", "2 days": the largest unit, never less than a minute."""
    waited = max(now - since, dt.timedelta(minutes=1))
    return format_timedelta(waited, threshold=1.5, granularity="minute", locale=locale())
