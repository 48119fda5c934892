"""Forecasts per second against a fit of each place by scipy; many places summarised; one household assessed.

Run alone: python -m tests.bench drying_speed
"""

from __future__ import annotations

import datetime as dt
import time
import warnings

import numpy as np
from scipy.optimize import OptimizeWarning, curve_fit

from guide_service.drying.approach import days_to, level_after
from guide_service.drying.assess import assess
from guide_service.drying.forecast import TAU_DAYS, TAU_LOG_SD, U_USUAL_MC, USUAL_END_MC, Batch, forecast
from guide_service.drying.outlook import CHECKS_USED, LIFT_SHARE
from guide_service.drying.policy import Policy
from guide_service.drying.summaries import PlaceTable, summarise
from guide_service.drying.terms import BAY_POINTS, Air, Circumstances, Exposure, Place, Reading, Wall
from guide_service.rehearsal.drying_world import Houses, Shown, build, read
from guide_service.rehearsal.world_ranges import CENTRAL, WorldRanges
from tests.bench.drying_judge import last_wet_day

Row = dict[str, object]

SEED, HOUSES, PER_HOUSE, GAP_DAYS = 5150, 250, 6, 6
FITTED_ONE_BY_ONE = 1500
MANY = 100_000
LONGEST = 150.0


def row(name: str, value: object, target: str = "", holds: bool | None = None) -> Row:
    return {"name": f"drying: {name}", "value": value, "target": target, "holds": holds}


def cases() -> tuple[Batch, np.ndarray]:
    """Places of the simulated world at some visit, not yet dry and in range, with the true days to the limit."""
    houses = build(SEED, HOUSES, PER_HOUSE)
    shown, stays = read(houses, SEED + 1, CENTRAL), last_wet_day(houses)
    rng = np.random.default_rng(SEED + 2)
    place = np.repeat(np.nonzero(np.isinf(houses.new_water_day))[0], 8)
    now = rng.integers(GAP_DAYS * 2 + 3, 110, place.size)
    days = now[:, None] - GAP_DAYS * np.arange(CHECKS_USED - 1, -1, -1)[None, :]
    level, kind = _levels(shown, place, days)
    usable = (kind[:, -1] == 0) & (level[:, -1] >= 15.5) & ((kind == 0).sum(axis=1) >= 3) & (stays[place] > now)
    place, now, days, level, kind = (part[usable] for part in (place, now, days, level, kind))
    return _batch(houses, place, days - now[:, None], level, kind), (stays[place] - now).astype(float)


def _levels(shown: Shown, place: np.ndarray, days: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    at = np.maximum(days, 0)
    value, over = shown.value[place[:, None], at], shown.above[place[:, None], at].any(axis=2)
    nothing = np.isnan(value).all(axis=2) | (days < 0)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        mean, top = np.nanmean(value, axis=2), np.nanmax(value, axis=2)
    kind = np.where(nothing, 2, np.where(over, 1, 0)).astype(np.int8)
    number = kind == 0
    lift = np.where(number, top - mean, 0.0).sum(axis=1) / np.maximum(number.sum(axis=1), 1)
    return np.where(nothing, 20.0, np.where(over, 28.0, mean + LIFT_SHARE * lift[:, None])), kind


def _batch(houses: Houses, place: np.ndarray, days: np.ndarray, level: np.ndarray, kind: np.ndarray) -> Batch:
    faces = np.array([c.faces for c in WorldRanges().constructions])[houses.construction[place]]
    exposure = [Exposure.TWO_FACES if count == 2 else Exposure.ONE_FACE for count in faces]
    n = place.size
    return Batch(
        days.astype(float),
        level,
        kind,
        tau=np.array([TAU_DAYS[one] for one in exposure]),
        tau_log_sd=np.array([TAU_LOG_SD[one] for one in exposure]),
        equilibrium=np.full(n, USUAL_END_MC),
        u_equilibrium=np.full(n, U_USUAL_MC),
        u_shared=np.full(n, 0.8),
    )


def fit_one_by_one(batch: Batch, count: int) -> tuple[np.ndarray, float]:
    """The same places by ``scipy.optimize.curve_fit``: level, end and time constant of an exponential, numbers only."""
    out = np.empty(count)
    start = time.perf_counter()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OptimizeWarning)
        warnings.simplefilter("ignore", RuntimeWarning)
        for k in range(count):
            out[k] = _fit_one(batch, k)
    return out, time.perf_counter() - start


def _fit_one(batch: Batch, k: int) -> float:
    number = batch.kind[k] == 0
    days, level = batch.days[k][number], batch.level[k][number]
    guess = (level[-1], USUAL_END_MC, float(batch.tau[k]))
    try:
        (now, end, tau), _ = curve_fit(lambda t, m, e, tau: level_after(t, m, e, tau), days, level, guess, maxfev=400)
    except (RuntimeError, TypeError):
        now, end, tau = guess
    return float(days_to(15.0, now, end, max(tau, 0.1)))


def _errors(told: np.ndarray, truth: np.ndarray) -> tuple[float, float]:
    """Median and mean error of the likely day, both capped at the horizon (never counts as the horizon)."""
    off = np.abs(np.minimum(told, LONGEST) - np.minimum(truth, LONGEST))
    return float(np.median(off)), float(off.mean())


def forecasts_per_second() -> list[Row]:
    batch, truth = cases()
    forecast(batch, 15.0)
    taken = []
    for _ in range(5):
        start = time.perf_counter()
        crossing = forecast(batch, 15.0)
        taken.append(time.perf_counter() - start)
    ours = truth.size / float(np.median(taken))
    count = min(FITTED_ONE_BY_ONE, truth.size)
    theirs, seconds = fit_one_by_one(batch, count)
    ratio = ours / (count / seconds)
    error, mean = _errors(crossing.likely[:count], truth[:count])
    other, other_mean = _errors(theirs, truth[:count])
    speed = f"{ours:,.0f} per second, {ratio:.0f} times {count / seconds:,.0f}"
    errors = f"median {error:.1f} d against {other:.1f} d, mean {mean:.1f} d against {other_mean:.1f} d"
    return [
        row("forecasts per second against curve_fit", speed, "at least 50 times", ratio >= 50.0),
        row("their error against it", errors, "equal or better", error <= other and mean <= other_mean),
    ]


def many_summarised() -> list[Row]:
    rng = np.random.default_rng(SEED)
    worst = rng.normal(19.0, 5.0, MANY).clip(6.0, 40.0)
    worst[rng.random(MANY) < 0.05], worst[rng.random(MANY) < 0.02] = np.nan, np.inf
    table = PlaceTable(
        group=rng.integers(0, 12_000, MANY),
        worst_mc=worst,
        days_since_check=rng.integers(0, 20, MANY).astype(float),
        passes=rng.random(MANY) < 0.2,
        stalled=rng.random(MANY) < 0.03,
        days_to_limit=np.where(rng.random(MANY) < 0.5, rng.uniform(1, 90, MANY), np.nan),
        temp_c=rng.uniform(8.0, 28.0, MANY),
    )
    start = time.perf_counter()
    summary = summarise(table, 12_000, Policy())
    seconds = time.perf_counter() - start
    text = f"{seconds:.2f} s for {int(summary.places.sum()):,} places in 12,000 households"
    return [row("places summarised", text, "seconds, not minutes", seconds < 10.0)]


def one_household() -> list[Row]:
    day = dt.date(2031, 5, 1)
    places = [Place(f"K{k}", "kitchen") for k in range(1, 7)]
    rows = []
    for name, tops in (
        ("wet", (28.0, 25.0, 22.0)),
        ("caution, with dates", (24.0, 20.0, 17.0)),
        ("dry", (18.0, 14.0, 12.5)),
    ):
        readings = [
            Reading(f"{c}{place.label}{k}", place.label, point, top - k, day + dt.timedelta(days=5 * c), f"v{c}")
            for c, top in enumerate(tops)
            for place in places
            for k, point in enumerate(BAY_POINTS)
        ]
        taken = []
        for _ in range(60):
            start = time.process_time()
            assess(
                places,
                [Wall("kitchen", "Kitchen", 6)],
                readings,
                policy=Policy(),
                air=Air(),
                circumstances=Circumstances(),
                today=day + dt.timedelta(days=10),
            )
            taken.append(time.process_time() - start)
        spent = 1000.0 * float(np.median(taken))
        rows.append(row(f"one household assessed, {name}", f"{spent:.2f} ms", "under 5 ms", spent < 5.0))
    return rows


def run() -> list[Row]:
    return forecasts_per_second() + many_summarised() + one_household()
