"""When the next visit is worth it: one date for all places of a household, inside the policy's windows."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import NamedTuple

from guide_service.drying.assessment import NextCheck, Reason, ReasonCode
from guide_service.drying.policy import CheckWindow, Policy
from guide_service.drying.terms import Band

DAY = dt.timedelta(days=1)
LOOK_AHEAD = 31
"""Days searched for one on which the person can do a check."""


class Due(NamedTuple):
    """What one place asks for."""

    band: Band
    over_range: bool
    second_round: bool


def window_of(due: Due, policy: Policy) -> CheckWindow:
    """Window of a place by its band [days]; a place without a judged reading counts as wet."""
    return policy.next_check_days["wet" if due.band is Band.UNREAD else due.band.value]


def next_check(
    dues: Sequence[Due], last_check: dt.date, policy: Policy, cannot_on: frozenset[dt.date], today: dt.date
) -> NextCheck | None:
    """One date for all places: not before the slowest window opens, never after the first one closes."""
    if not dues:
        return None
    windows = [window_of(due, policy) for due in dues]
    latest = min(window.latest for window in windows)
    earliest = min(max(window.earliest for window in windows), latest)
    days = preferred_days(dues, earliest, latest)
    on = possible_day(last_check, days, earliest, latest, cannot_on, today)
    code = ReasonCode.SECOND_ROUND if all(due.second_round for due in dues) else ReasonCode.BAND_INTERVAL
    if on != max(last_check + days * DAY, today):
        code = ReasonCode.DAY_NOT_POSSIBLE
    worst = max((due.band for due in dues), key=_severity)
    return NextCheck(on, Reason(code, {"days": (on - last_check).days, "band": worst}))


def preferred_days(dues: Sequence[Due], earliest: int, latest: int) -> int:
    """Days after the last check: soon when a second round decides, late when nothing can have changed."""
    if all(due.second_round for due in dues):
        return earliest
    if any(due.over_range for due in dues):
        return latest
    return (earliest + latest + 1) // 2


def possible_day(
    last_check: dt.date,
    days: int,
    earliest: int,
    latest: int,
    cannot_on: frozenset[dt.date],
    today: dt.date,
) -> dt.date:
    """The preferred day, else a later one in the window, else an earlier one, else the first possible one after it."""
    order = [*range(days, latest + 1), *range(days - 1, earliest - 1, -1), *range(latest + 1, latest + LOOK_AHEAD)]
    candidates = [last_check + n * DAY for n in order]
    usable = (day for day in candidates if day >= today and day not in cannot_on)
    free_from_today = (day for n in range(LOOK_AHEAD) if (day := today + n * DAY) not in cannot_on)
    return next(usable, None) or next(free_from_today, today)


def _severity(band: Band) -> int:
    return (Band.DRY, Band.CAUTION, Band.UNREAD, Band.WET).index(band)
