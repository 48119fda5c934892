"""When we may speak unasked, when an office is staffed, and the local times of what we start.

Texts that we start go out between 08:00 and 21:00 of the household's own zone: the hours of the US rule on calls to
residences (47 CFR 64.1200(c)(1)); that county texts keep to them too is common practice.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from zoneinfo import ZoneInfo

from guide_service.county import Office
from guide_service.county_rules import Hours

LAST_CALL = dt.timedelta(minutes=2)
"""Nothing starts in the last minutes: the carrier may keep a text only until the quiet begins. Our choice."""
LONGEST_WAIT_AT_CARRIER = dt.timedelta(hours=4)
"""A reminder that arrives later does more harm than good. Our choice; the carrier keeps ten hours at most."""


def next_allowed(at: dt.datetime, zone: ZoneInfo, hours: Hours) -> dt.datetime:
    """``at``, or the next morning if that falls into the quiet hours (in UTC)."""
    local = at.astimezone(zone)
    if local < _at(local.date(), hours.quiet_before, zone):
        return _at(local.date(), hours.quiet_before, zone).astimezone(dt.UTC)
    if at < _quiet_begins(local.date(), zone, hours) - LAST_CALL:
        return at.astimezone(dt.UTC)
    return _at(local.date() + dt.timedelta(days=1), hours.quiet_before, zone).astimezone(dt.UTC)


def validity_seconds(at: dt.datetime, zone: ZoneInfo, hours: Hours) -> int:
    """How long the carrier may keep a text sent at ``at`` in its queue, so that a backlog delivers nothing at night."""
    left = _quiet_begins(at.astimezone(zone).date(), zone, hours) - at
    return max(1, int(min(left, LONGEST_WAIT_AT_CARRIER).total_seconds()))


def reminder_time(day: dt.date, zone: ZoneInfo, hours: Hours, told: Mapping[str, object] | None = None) -> dt.datetime:
    """When a household is reminded on that day of its calendar (in UTC): at the time that it ``told``, where we may."""
    return _at(day, _asked_for(told, hours) or hours.reminder_at, zone).astimezone(dt.UTC)


def _asked_for(told: Mapping[str, object] | None, hours: Hours) -> dt.time | None:
    asked = (told or {}).get("remind_at")
    time = dt.time.fromisoformat(asked) if isinstance(asked, str) else None
    return time if time is not None and hours.quiet_before <= time < hours.quiet_after else None


def next_office_hour(at: dt.datetime, zone: ZoneInfo, office: Office) -> dt.datetime:
    """``at`` if somebody is in the office then, otherwise when it opens next (in UTC)."""
    today = at.astimezone(zone).date()
    for day in (today + dt.timedelta(days=ahead) for ahead in range(8)):
        if day.weekday() in office.days and at < _at(day, office.closes, zone):
            return max(at, _at(day, office.opens, zone)).astimezone(dt.UTC)
    return at.astimezone(dt.UTC)  # an office that never opens must not swallow an alarm


def _quiet_begins(day: dt.date, zone: ZoneInfo, hours: Hours) -> dt.datetime:
    return _at(day, hours.quiet_after, zone).astimezone(dt.UTC)


def _at(day: dt.date, time: dt.time, zone: ZoneInfo) -> dt.datetime:
    return dt.datetime.combine(day, time, tzinfo=zone)
