"""The rules to beat, on the same houses: dry at one set of readings at or under a limit, or at two in a row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from guide_service.rehearsal.drying_world import Houses, Shown
from tests.bench.drying_judge import NEVER, Life, Score, score

WET_DAYS, CAUTION_DAYS, DRY_DAYS = 6, 5, 3
"""Visits of the fixed rules: the middle of the policy's windows, by the wettest open place of the house."""


@dataclass(frozen=True, slots=True)
class FixedRule:
    limit: float
    rounds: int


def worst_shown(shown: Shown) -> np.ndarray:
    """(n, days) worst number of each place and day; over range is infinite, nothing read is ``nan``."""
    value = np.where(shown.above, np.inf, shown.value)
    read = ~np.isnan(value).all(axis=2)
    return np.where(read, np.max(np.where(np.isnan(value), -np.inf, value), axis=2), np.nan)


def live_by(
    rule: FixedRule, worst: np.ndarray, houses: Houses, life: Life, every: int | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Day on which the rule calls each place dry (``NEVER``), and visits of each house; all houses step together."""
    per, horizon = houses.per_house, houses.truth.shape[1] - 1
    count = len(houses.emc_mean)
    decided = np.full(count * per, NEVER)
    run = np.zeros(count * per, int)
    day, visits = life.first.astype(int).copy(), np.zeros(count, int)
    place = np.arange(count * per)
    for visit in range(horizon):
        house_open = (decided.reshape(count, per) == NEVER).any(axis=1) & (day <= horizon)
        if not house_open.any():
            break
        visits += house_open
        today = np.minimum(np.repeat(day, per), horizon)
        now = worst[place, today]
        active = np.repeat(house_open, per) & (decided == NEVER) & ~np.isnan(now)
        run = np.where(active, np.where(now <= rule.limit, run + 1, 0), run)
        decided = np.where(active & (run >= rule.rounds), today, decided)
        still = (decided == NEVER).reshape(count, per)
        gap = _gap(now.reshape(count, per), still) if every is None else every
        day = day + gap + life.late[:, visit]
    return decided, visits


def _gap(now: np.ndarray, still: np.ndarray) -> np.ndarray:
    wet = ((now > 20.0) & still).any(axis=1)
    dry = ((now < 15.0) & still).any(axis=1)
    return np.where(wet, WET_DAYS, np.where(dry, DRY_DAYS, CAUTION_DAYS))


def frontier(
    houses: Houses, shown: Shown, life: Life, stays: np.ndarray, every: int | None = None, step: float = 0.2
) -> list[tuple[FixedRule, Score]]:
    """Every limit from 10 to 15 in one round and in two, with its score."""
    worst = worst_shown(shown)
    rules = [FixedRule(float(limit), rounds) for rounds in (1, 2) for limit in np.arange(10.0, 15.01, step)]
    return [(rule, score(live_by(rule, worst, houses, life, every)[0], houses, stays)) for rule in rules]


def best_at(points: list[tuple[FixedRule, Score]], ours: Score) -> tuple[FixedRule, Score]:
    """The rule with the fewest days lost in the mean among those that are wrong no more often than ours.

    Both lines count, 16 % and 15 %: with a good meter the decisions above 16 % are single digits in thousands, and
    rules that differ tenfold above 15 % cannot be told apart by them.
    """
    allowed = [
        point for point in points if point[1].harm_share <= ours.harm_share and point[1].above_share <= ours.above_share
    ]
    strictest = min(points, key=lambda point: (point[1].above_share, point[1].lost_mean))
    return min(allowed or [strictest], key=lambda point: point[1].lost_mean)


def best_at_harm(points: list[tuple[FixedRule, Score]], ours: Score) -> tuple[FixedRule, Score]:
    """The same with the line of 16 % alone."""
    allowed = [point for point in points if point[1].harm_share <= ours.harm_share]
    return min(allowed or points, key=lambda point: point[1].lost_mean)
