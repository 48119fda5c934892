"""How sure the readings of a place make us that its wettest point is truly below the limit.

Theory of operation
-------------------
1. Each point's readings are brought to one level and its standard error by a scalar Kalman filter whose state is the
   moisture content and its daily fall (local linear trend, the fall fading as the wood nears the air's equilibrium).
   A number far below what the wood can have fallen to weighs little (a slip of the thumb), until the next one says the
   same; one far above is believed.
2. What all readings of a household share (meter, species, temperature) is not shrunk by repetition. It is judged once
   more against the *floor*: the driest wood of the house cannot lie below the equilibrium of its air, so a floor that
   reads lower than any likely equilibrium means that the meter reads low. A high floor says nothing (the wood may still
   be wet): the distance of the floor above equilibrium is exponential, which makes the inference one-sided.
3. The probability that every point lies below the limit is the average over that shared error of the product over
   points (spot errors are each point's own).

The constants of the filter were chosen on one seed of the simulated world and judged on others (docs/drying-model.md).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from guide_service.drying.history import Check, History
from guide_service.drying.meter import Judged
from guide_service.drying.policy import Policy
from guide_service.drying.terms import Point, Qualifier

Series = tuple[tuple[int, float], ...]
"""Ordinal day and corrected moisture content [% MC] of one point's readings; ``inf`` = over range."""

NOISE_MC = 1.1
"""Standard deviation of a reading about the fitted fall [% MC]: noise of the push, step of the display, weather."""
FALL_MC_PER_DAY = -0.1
FALL_SD = 0.2
"""Fall per day expected of a place in the dry-down, and its spread [% MC per day]: (M - E) / tau of science 3.1."""
FADE_DAYS = 18.0
"""The fall fades with this time constant [days]; a stud open on both sides has about 14 (38 mm, 1.2e-10 m2/s)."""
REST_FALL = -0.05
LEVEL_WANDER = 0.06
FALL_WANDER = 0.006
"""Random walk of the level and of the fall [% MC and % MC per day, per square root of a day]."""
SLIP = 3.0
"""Innovations beyond so many standard deviations are a slip (down) or new water (up)."""
FLOOR_GAP_MC = 0.8
"""Mean distance of the driest place's reading above equilibrium [% MC]."""
SHARED_NODES = tuple(-4.5 + 0.5 * k for k in range(17))
"""Grid of the shared error of all readings of a household [% MC]; negative = the meter reads low."""


class Level(NamedTuple):
    """A point's moisture content at its last reading, by the meter's scale, and its standard error [% MC]."""

    mc: float
    se: float


class Floor(NamedTuple):
    """The driest wood of the household as the meter reads it, and of how many places it is the driest."""

    mc: float
    places: int


@lru_cache(maxsize=16384)
def point_level(series: Series) -> Level | None:
    """Level of one point after its readings in order of time; ``None`` when the last one is over range."""
    level, fall = math.nan, FALL_MC_PER_DAY
    a = b = c = 0.0
    day_before = series[0][0]
    noise = NOISE_MC**2
    slipped: float | None = None
    for day, value in series:
        if math.isinf(value):
            level = math.nan
            continue
        if math.isnan(level):
            level, fall, a, b, c = value, FALL_MC_PER_DAY, noise, 0.0, FALL_SD**2
            day_before = day
            continue
        days = float(day - day_before)
        fade = math.exp(-days / FADE_DAYS)
        level += fall * days * (1.0 + fade) / 2.0
        a += 2.0 * days * b + days * days * c + LEVEL_WANDER**2 * days
        b = (b + days * c) * fade
        c = c * fade * fade + FALL_WANDER**2 * days
        fall = fall * fade + (1.0 - fade) * REST_FALL
        spread = a + noise
        off = value - level
        low = off < -SLIP * math.sqrt(spread)
        if low and slipped is not None and abs(value - slipped) <= SLIP * NOISE_MC:
            level, a, b, slipped = max(value, slipped), noise, 0.0, None
        elif off > SLIP * math.sqrt(spread):
            level, a, b, slipped = value, noise, 0.0, None
        else:
            slipped = value if low else None
            if low:
                spread *= 9.0
            gain, gain_fall = a / spread, b / spread
            level += gain * off
            fall = min(fall + gain_fall * off, 0.3)
            c -= gain_fall * b
            b -= gain * b
            a -= gain * a
        day_before = day
    return None if math.isnan(level) else Level(level, math.sqrt(a))


def series_by_point(checks: Iterable[Check]) -> dict[Point, Series]:
    """The counting readings of each wood point, in order of time."""
    seen: dict[Point, list[tuple[int, float]]] = {}
    for check in checks:
        for judged in check.counting:
            over = judged.reading.qualifier is Qualifier.ABOVE
            entry = (check.on.toordinal(), math.inf if over else judged.mc)
            seen.setdefault(judged.reading.point, []).append(entry)
    return {point: tuple(entries) for point, entries in seen.items()}


def point_levels(history: History) -> list[Level | None]:
    """Levels of every wood point of a place."""
    return [point_level(series) for series in series_by_point(history.checks).values()]


def household_floor(histories: Iterable[History]) -> Floor | None:
    """The driest place of the household by the mean of its points' levels; reference wood counts like any other."""
    means = []
    for history in histories:
        levels = [level.mc for level in point_levels(history) if level is not None]
        if levels:
            means.append(sum(levels) / len(levels))
    return Floor(min(means), len(means)) if means else None


def probability_dry(history: History, floor: Floor | None, equilibrium: Level, policy: Policy) -> float:
    """Probability that every point of the place lay below the limit at its last reading.

    ``equilibrium`` is the moisture content [% MC] that the air leads to, with its standard uncertainty.
    """
    levels = point_levels(history)
    judged = [one for check in history.checks[-policy.rounds :] for one in check.counting]
    if not judged or any(level is None for level in levels):
        return 0.0
    shared = max(one.u_shared for one in judged)
    return chance_all_below([level for level in levels if level is not None], shared, floor, equilibrium, policy)


def probability_dry_once(judged: Judged, floor: Floor | None, equilibrium: Level, policy: Policy) -> float:
    """The same for one reading alone (a bay read once at its plate)."""
    if judged.reading.qualifier is Qualifier.ABOVE:
        return 0.0
    return chance_all_below([Level(judged.mc, judged.u_own)], judged.u_shared, floor, equilibrium, policy)


def chance_all_below(
    levels: Sequence[Level], u_shared: float, floor: Floor | None, equilibrium: Level, policy: Policy
) -> float:
    """P(all points < limit), averaged over the shared error given the floor of the household."""
    limit = policy.dry_below_mc
    spreads = [math.hypot(level.se, policy.u_spot_mc) * math.sqrt(2.0) for level in levels]
    total = weight_sum = 0.0
    for error in SHARED_NODES:
        weight = math.exp(-0.5 * (error / u_shared) ** 2)
        if floor is not None:
            weight *= _floor_density(_unbiased(floor) - error - equilibrium.mc, equilibrium.se)
        weight_sum += weight
        for level, spread in zip(levels, spreads, strict=True):
            weight *= 0.5 * math.erfc((level.mc - error - limit) / spread)
        total += weight
    return total / weight_sum if weight_sum > 0.0 else 0.0


def _unbiased(floor: Floor) -> float:
    """The least of several noisy levels reads low by about this much (spread of places about 0.7 % MC; fitted)."""
    return floor.mc + 0.2 + 0.7 * math.log2(floor.places)


def _floor_density(above: float, u: float) -> float:
    """Density of a normal error plus an exponential gap (exponentially modified normal), up to a constant."""
    rate = 1.0 / FLOOR_GAP_MC
    tilt = rate * (rate * u * u / 2.0 - above)
    return math.exp(min(tilt, 600.0)) * math.erfc((rate * u - above / u) / math.sqrt(2.0))
