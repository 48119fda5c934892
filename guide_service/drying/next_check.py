"""When the next visit is worth it: one date for all places of a household, inside the policy's windows.

Each place says in how many days its answer may change (wet to caution, caution to dry, dry to meeting the limit), from
its latest wood numbers and how fast they fall. A wall is worth a visit when its slowest place is, since it is closed as
one; the household's date follows the wall that may change first, held inside the windows of all its places: never
before the slowest window opens, never after the first one closes. A second round alone does not call everybody out
after three days while other places are far from dry: then ``LEAST_DAYS`` pass.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import NamedTuple

from guide_service.drying.assessment import NextCheck, Reason, ReasonCode
from guide_service.drying.history import Check
from guide_service.drying.policy import CheckWindow, Policy
from guide_service.drying.terms import Band, Qualifier

LOOK_AHEAD = 31
"""Days searched for one on which the person can do a check."""
TREND_DAYS = 6
"""A fall is taken between the latest check and one at least so many days older (two noisy numbers need distance)."""
USUAL_FALL, LEAST_FALL = 0.3, 0.05
"""Fall of a place without a trend yet, and the least believed [% MC per day]; (M - E) / tau with 14 to 60 days."""
BORDERLINE_MC = 0.7
"""What a dry but not yet certain place is expected to fall before it meets the limit [% MC]. Own choice."""


LEAST_DAYS = 5
"""Days between visits unless nothing but second rounds is missing (chosen in the simulated world)."""


class Due(NamedTuple):
    """What one place asks for."""

    wall: str
    band: Band
    second_round: bool
    """Whether only a second round is missing."""
    days: float
    """Days after the last check until its answer may change."""


def window_of(due: Due, policy: Policy) -> CheckWindow:
    """Window of a place by its band [days]; a place without a judged reading counts as wet."""
    return policy.next_check_days["wet" if due.band is Band.UNREAD else due.band.value]


def due_of(
    wall: str, band: Band, checks: Sequence[Check], probability: float | None, rounds_missing: bool, policy: Policy
) -> Due:
    """What a place asks for, from its band, its checks in order of time and the probability that it is dry."""
    top = checks[-1].top if checks else None
    if top is None or top.reading.qualifier is Qualifier.ABOVE:
        return Due(wall, band, False, math.inf)
    if band is Band.DRY and rounds_missing:
        return Due(wall, band, True, policy.days_between_rounds)
    if band is Band.DRY:
        sure = 0.0 if probability is None else probability
        drop = BORDERLINE_MC * (1.0 - sure / policy.confidence)
    else:
        drop = top.mc - (policy.dry_below_mc if band is Band.CAUTION else policy.wet_above_mc) + BORDERLINE_MC
    return Due(wall, band, False, max(drop, 0.0) / fall_per_day(checks))


def fall_per_day(checks: Sequence[Check]) -> float:
    """Fall of the worst wood point [% MC per day], over checks far enough apart; at least ``LEAST_FALL``."""
    latest, top = checks[-1], checks[-1].top
    for check in reversed(checks[:-1]):
        days = (latest.on - check.on).days
        earlier = check.top
        if days >= TREND_DAYS and top is not None and earlier is not None:
            return max((earlier.mc - top.mc) / days, LEAST_FALL)
    return USUAL_FALL


def next_check(
    dues: Sequence[Due], last_check: dt.date, policy: Policy, cannot_on: frozenset[dt.date], today: dt.date
) -> NextCheck | None:
    """One date for all places of the household; ``None`` when no place asks for one."""
    if not dues:
        return None
    windows = [window_of(due, policy) for due in dues]
    latest = min(window.latest for window in windows)
    earliest = min(max(window.earliest for window in windows), latest)
    days = preferred_days(dues, earliest, latest)
    on = possible_day(last_check, days, earliest, latest, cannot_on, today)
    code = ReasonCode.SECOND_ROUND if any(due.second_round for due in dues) else ReasonCode.BAND_INTERVAL
    if on != max(last_check + dt.timedelta(days=days), today):
        code = ReasonCode.DAY_NOT_POSSIBLE
    band = max((due.band for due in dues), key=_severity)
    return NextCheck(on, Reason(code, {"days": (on - last_check).days, "band": band}))


def preferred_days(dues: Sequence[Due], earliest: int, latest: int) -> int:
    """Days after the last check: when the first wall's answer may change, within the window."""
    if all(due.second_round for due in dues):
        return earliest
    of_wall: dict[str, float] = {}
    for due in dues:
        of_wall[due.wall] = max(of_wall.get(due.wall, 0.0), due.days)
    soonest = min(of_wall.values())
    return latest if soonest >= latest else max(math.ceil(soonest), min(max(earliest, LEAST_DAYS), latest))


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
    candidates = [last_check + dt.timedelta(days=n) for n in order]
    usable = (day for day in candidates if day >= today and day not in cannot_on)
    free_from_today = (day for n in range(LOOK_AHEAD) if (day := today + dt.timedelta(days=n)) not in cannot_on)
    return next(usable, None) or next(free_from_today, today)


def _severity(band: Band) -> int:
    return (Band.DRY, Band.CAUTION, Band.UNREAD, Band.WET).index(band)
