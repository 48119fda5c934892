"""From a household's readings to what can be said of the days ahead: a range of dates, or why there is none."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from guide_service.drying.assessment import Forecast, ForecastKind
from guide_service.drying.course import Course, course_of
from guide_service.drying.forecast import (
    FREE_WATER_MC,
    HOPELESS_EMC,
    LONGEST_DAYS,
    TAU_DAYS,
    TAU_LOG_SD,
    U_END_MC,
    U_USUAL_MC,
    USUAL_END_MC,
    Batch,
    end_of_approach,
    forecast,
)
from guide_service.drying.history import Check, History
from guide_service.drying.policy import Policy
from guide_service.drying.terms import Band, Exposure, Qualifier

CHECKS_USED = 8
CHECKS_NEEDED = 3
"""Checks in range before a date is given: two make a line through noise (science of slopes: 3 visits at least)."""
LIFT_SHARE = 0.5
"""The worst point's excess over the mean of its place, as read, is half chance (three noisy numbers)."""
NEW_WATER_MC = 2.0
"""A check whose mean stands this far above the one before it starts the story anew [% MC]."""
SHOWN_DAYS = 28
"""Of a course that is too uncertain for a date."""
U_FORECAST_METER_MC = 0.8
"""Shared error of the meter in a forecast [% MC]; chosen in the simulated world for the 80 % range to hold."""


class Row(NamedTuple):
    """One place ready to be fitted: ``(days before the newest check, level, kind)`` of its last checks."""

    label: str
    newest: dt.date
    checks: tuple[tuple[float, float, int], ...]


def forecasts(
    histories: Mapping[str, History],
    bands: Mapping[str, Band],
    known_air: tuple[float, float] | None,
    policy: Policy,
) -> dict[str, Forecast]:
    """A forecast for every place that has been read; places that need no fit get none."""
    told: dict[str, Forecast] = {}
    rows: list[tuple[Row, History]] = []
    for label, history in histories.items():
        kind = _without_fit(history, bands[label], known_air, policy)
        if kind is not None:
            told[label] = Forecast(kind)
        elif history.checks and history.checks[-1].counting:
            row = row_of(history)
            if sum(kind == 0 for _, _, kind in row.checks) >= CHECKS_NEEDED:
                rows.append((row, history))
            else:
                told[label] = Forecast(ForecastKind.CANNOT_TELL)
    return {**told, **_fitted(rows, known_air, policy)} if rows else told


def expected(
    history: History, forecast: Forecast | None, known_air: tuple[float, float] | None, policy: Policy
) -> Course | None:
    """The fitted course of a place whose forecast rests on a fit: to the end of its range, else for some weeks."""
    if forecast is None or forecast.days_to_go is None:
        return None
    row = row_of(history)
    days = (forecast.latest - row.newest).days if forecast.latest else SHOWN_DAYS
    return course_of(batch_of((row,), (history.place.exposure,), known_air), policy.dry_below_mc, days + 2.0)


def _without_fit(
    history: History, band: Band, known_air: tuple[float, float] | None, policy: Policy
) -> ForecastKind | None:
    if not history.checks or history.checks[-1].top is None:
        return None
    if band is Band.DRY:
        return ForecastKind.DRY_NOW
    top = history.checks[-1].top
    if top.reading.qualifier is Qualifier.ABOVE or top.mc >= FREE_WATER_MC:
        return ForecastKind.TOO_WET
    if known_air is not None and known_air[0] > policy.dry_below_mc + HOPELESS_EMC:
        return ForecastKind.AIR_CANNOT_DRY
    return None


def row_of(history: History) -> Row:
    """The last checks of a place as levels of its worst point, from the last time that new water came."""
    checks = _since_new_water([check for check in history.checks if check.counting])[-CHECKS_USED:]
    newest = checks[-1].on
    in_range = [check for check in checks if not _over(check)]
    lifts = [max(one.mc for one in check.counting) - _mean(check) for check in in_range]
    lift = LIFT_SHARE * sum(lifts) / len(lifts) if lifts else 0.0
    entries = tuple((-float((newest - check.on).days), *_level(check, lift)) for check in checks)
    return Row(history.place.label, newest, entries)


def _over(check: Check) -> bool:
    return any(one.reading.qualifier is Qualifier.ABOVE for one in check.counting)


def _mean(check: Check) -> float:
    return sum(one.mc for one in check.counting) / len(check.counting)


def _level(check: Check, lift: float) -> tuple[float, int]:
    if _over(check):
        return max(one.mc for one in check.counting if one.reading.qualifier is Qualifier.ABOVE), 1
    if all(one.reading.qualifier is Qualifier.BELOW for one in check.counting):
        return max(one.mc for one in check.counting), -1
    return _mean(check) + lift, 0


def _since_new_water(checks: Sequence[Check]) -> Sequence[Check]:
    for k in range(len(checks) - 1, 0, -1):
        risen = _mean(checks[k]) - _mean(checks[k - 1]) > NEW_WATER_MC
        if risen or (_over(checks[k]) and not _over(checks[k - 1])):
            return checks[k:]
    return checks


def _fitted(
    rows: Sequence[tuple[Row, History]], known_air: tuple[float, float] | None, policy: Policy
) -> dict[str, Forecast]:
    exposures = tuple(history.place.exposure for _, history in rows)
    days = crossings(tuple(row for row, _ in rows), exposures, known_air, policy.dry_below_mc)
    return {row.label: _dated(row, *days[k]) for k, (row, _) in enumerate(rows)}


@lru_cache(maxsize=4096)
def crossings(
    rows: tuple[Row, ...], exposures: tuple[Exposure, ...], known_air: tuple[float, float] | None, limit: float
) -> tuple[tuple[float, float, float], ...]:
    """Early, likely and late day of each row. Remembered: most texts of a household bring no new reading."""
    crossing = forecast(batch_of(rows, exposures, known_air), limit)
    return tuple(zip(*(map(float, part) for part in (crossing.early, crossing.likely, crossing.late)), strict=True))


def batch_of(rows: Sequence[Row], exposures: Sequence[Exposure], known_air: tuple[float, float] | None = None) -> Batch:
    """Rows as the arrays that the fit works on, newest check last."""
    n = len(rows)
    days, level = np.zeros((n, CHECKS_USED)), np.full((n, CHECKS_USED), 20.0)
    kind = np.full((n, CHECKS_USED), 2, np.int8)
    for k, row in enumerate(rows):
        start = CHECKS_USED - len(row.checks)
        days[k, start:], level[k, start:], kind[k, start:] = zip(*row.checks, strict=True)
    air = USUAL_END_MC if known_air is None else known_air[0]
    return Batch(
        days,
        level,
        kind,
        tau=np.array([TAU_DAYS[exposure] for exposure in exposures]),
        tau_log_sd=np.array([TAU_LOG_SD[exposure] for exposure in exposures]),
        equilibrium=np.full(n, end_of_approach(air)),
        u_equilibrium=np.full(n, U_END_MC if known_air is not None else U_USUAL_MC),
        u_shared=np.full(n, U_FORECAST_METER_MC),
    )


def _dated(row: Row, early: float, likely: float, late: float) -> Forecast:
    if not late <= LONGEST_DAYS:
        return Forecast(ForecastKind.CANNOT_TELL, days_to_go=likely)
    day = row.newest
    return Forecast(
        ForecastKind.DATE,
        earliest=day + dt.timedelta(days=math.floor(early)),
        likely=day + dt.timedelta(days=round(likely)),
        latest=day + dt.timedelta(days=math.ceil(late)),
        days_to_go=likely,
    )
