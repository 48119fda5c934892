"""Findings that ask for somebody's attention: a place that does not dry, dries too slowly, or turned wet again.

Two different statements about the fall of a place (science of slopes with known noise), never merged:
- *too slow*: the forecast's likely day is more than ``SLOW_DAYS`` away; where there is no forecast, even the upper
  bound of its fall cannot bring it to the limit within ``TOO_LONG_DAYS``;
- *not shown to dry*: a fall of nothing is within noise. Only together with the first is a place called stalled.
A fall is the common slope of a place's points, each with its own level, over the last checks in range; over-range
readings say nothing of a slope. New water is a rise of most points at once above what their fall had led to: one
point alone is a slip of the thumb or another spot.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from statistics import median_low
from typing import NamedTuple

from guide_service.drying.assessment import Cause, Finding, FindingKind, Forecast, Reason, ReasonCode
from guide_service.drying.evidence import Series, point_level, series_by_point
from guide_service.drying.history import History, is_treated_plate, points_needed
from guide_service.drying.policy import Policy
from guide_service.drying.terms import Band, Exposure, Point

TOO_LONG_DAYS = {Exposure.TWO_FACES: 30, Exposure.UNKNOWN: 30, Exposure.ONE_FACE: 30}
"""Remaining time beyond which a place is too slow (county practice; a stud open on both sides has tau about 14 d)."""
SLOW_DAYS = 16.0
"""Likely days to go beyond which a place is called too slow, after four checks in range (some 18 days since the first).
Chosen in the simulated world between missed and false alarms (docs/drying-model.md draws the trade-off)."""
WINDOW_DAYS = 28
"""Checks older than this say nothing of today's fall."""
Z_BOUND = 1.0
"""One-sided bound of the fall in standard errors; chosen in the simulated world (power against false alarms)."""
SLOPE_NOISE_MC = 0.85
"""Noise of one reading about a straight fall [% MC]: push, display step, weather (chosen like the closing rule's)."""
RISE_MC = 2.6
"""Rise of the middle point above its level that is new water [% MC]; about 3.5 standard errors."""
ALSO_UP_MC = 0.7
"""Rise of every other point that makes one point far above them new water and no slip of the thumb [% MC]."""
STUCK_DAYS = 28
"""Dry rounds over so many days without passing: the limit is out of reach as things are (county practice)."""


class Fall(NamedTuple):
    """Change per day [% MC per day; falling is negative], its standard error, and the checks and days behind it."""

    slope: float
    se: float
    checks: int
    days: int


def common_fall(series: Sequence[Series], newest: int) -> Fall | None:
    """Common slope of several points' readings in range over the last ``WINDOW_DAYS`` before ordinal day ``newest``."""
    sxx = sxy = 0.0
    days_seen: set[int] = set()
    for one in series:
        usable = _since_over_range([entry for entry in one if newest - entry[0] <= WINDOW_DAYS])
        if len(usable) < 2:
            continue
        mean_day = sum(day for day, _ in usable) / len(usable)
        mean = sum(value for _, value in usable) / len(usable)
        sxx += sum((day - mean_day) ** 2 for day, _ in usable)
        sxy += sum((day - mean_day) * (value - mean) for day, value in usable)
        days_seen.update(day for day, _ in usable)
    if sxx <= 0.0:
        return None
    return Fall(sxy / sxx, SLOPE_NOISE_MC / math.sqrt(sxx), len(days_seen), max(days_seen) - min(days_seen))


def _since_over_range(entries: Sequence[tuple[int, float]]) -> list[tuple[int, float]]:
    """The entries after the last one over range."""
    start = max((k + 1 for k, (_, value) in enumerate(entries) if math.isinf(value)), default=0)
    return list(entries[start:])


def rewetted(series: Sequence[Series], policy: Policy) -> bool:
    """Whether most points stand above their level so far by more than noise allows, or one far above and all up."""
    newest = max((one[-1][0] for one in series), default=0)
    rises, since_last = [], []
    for one in series:
        before = point_level(one[:-1]) if len(one) > 1 and one[-1][0] == newest else None
        if before is not None:
            rises.append(one[-1][1] - before.mc)
            since_last.append(one[-1][1] - one[-2][1])
    if not rises:
        return False
    if len(rises) == 1:
        return rises[0] > policy.repeatability_mc
    one_point_leads = max(since_last) > policy.repeatability_mc and min(since_last) > ALSO_UP_MC
    return median_low(rises) > RISE_MC or one_point_leads


def findings_of(
    histories: Mapping[str, History],
    bands: Mapping[str, Band],
    chances: Mapping[str, float | None],
    forecasts: Mapping[str, Forecast],
    policy: Policy,
) -> list[Finding]:
    """Stall, slowness, rewetting and unreachable-limit findings of the followed places of a household."""
    falls: dict[str, Fall] = {}
    found: list[Finding] = []
    for label, history in histories.items():
        if len(history.checks) < 2:
            continue
        series = series_by_point(history.checks)
        if rewetted(list(series.values()), policy):
            found.append(Finding(FindingKind.REWETTED, (label,), Cause.NEW_WATER))
            continue
        if bands[label] is Band.DRY:
            found += _out_of_reach(label, history, chances[label], policy)
        elif len(history.checks) >= policy.stall_checks:
            finding = _too_slow(history, series, falls, forecasts.get(label), policy)
            found += [finding] if finding else []
    return [_with_cause(finding, histories, falls) for finding in found]


def _too_slow(
    history: History,
    series: Mapping[Point, Series],
    falls: dict[str, Fall],
    forecast: Forecast | None,
    policy: Policy,
) -> Finding | None:
    place, latest = history.place, history.checks[-1]
    if len(series) < points_needed(place, policy) or latest.top is None or math.isinf(latest.top.mc):
        return None
    fall = common_fall(list(series.values()), latest.on.toordinal())
    if fall is None:
        return None
    falls[place.label] = fall
    levels = [level.mc for one in series.values() if (level := point_level(one)) is not None]
    in_range = sum(check.top is not None and not math.isinf(check.top.mc) for check in history.checks)
    too_early = min(fall.checks, in_range) < policy.stall_checks or fall.days < policy.stall_days
    if too_early or len(levels) < len(series):
        return None
    needed = (max(levels) - policy.dry_below_mc) / TOO_LONG_DAYS[place.exposure]
    if needed <= 0.0 or not _is_slow(fall, needed, forecast):
        return None
    shown_to_dry = -fall.slope - 1.645 * fall.se > 0.0
    kind = FindingKind.TOO_SLOW if shown_to_dry else FindingKind.STALLED
    args = {"fall_per_day": -fall.slope, "needed_per_day": needed, "checks": fall.checks, "days": fall.days}
    return Finding(kind, (place.label,), Cause.UNKNOWN, (Reason(ReasonCode.NOT_BELOW_LIMIT, args),))


def _is_slow(fall: Fall, needed: float, forecast: Forecast | None) -> bool:
    if forecast is not None and forecast.days_to_go is not None:
        return forecast.days_to_go > SLOW_DAYS
    return -fall.slope + Z_BOUND * fall.se < needed


def _out_of_reach(label: str, history: History, chance: float | None, policy: Policy) -> list[Finding]:
    """A place that reads dry for weeks without ever being sure enough: no endless round of visits."""
    if chance is None or chance >= policy.confidence:
        return []
    dry_since = history.checks[-1].on
    rounds = 0
    for check in reversed(history.checks):
        if check.top is None or check.top.mc >= policy.dry_below_mc:
            break
        dry_since, rounds = check.on, rounds + 1
    if (history.checks[-1].on - dry_since).days < STUCK_DAYS or rounds < policy.stall_checks:
        return []
    reason = Reason(ReasonCode.NOT_SURE_ENOUGH, {"probability": chance, "needed": policy.confidence})
    return [Finding(FindingKind.LIMIT_OUT_OF_REACH, (label,), Cause.UNKNOWN, (reason,))]


def _with_cause(finding: Finding, histories: Mapping[str, History], falls: Mapping[str, Fall]) -> Finding:
    """The probable cause where the numbers tell; the air is told apart by whoever knows it."""
    if finding.kind not in (FindingKind.STALLED, FindingKind.TOO_SLOW):
        return finding
    label = finding.places[0]
    top = histories[label].checks[-1].top
    if top is not None and is_treated_plate(histories[label].place, top):
        return replace(finding, cause=Cause.TREATED_OR_SALT)
    others = [fall for other, fall in falls.items() if other != label]
    drying = [fall for fall in others if -fall.slope - 1.645 * fall.se > 0.0]
    if others and len(drying) == len(others):
        return replace(finding, cause=Cause.ONE_PLACE)
    return finding
