"""Households of the simulated world live through a drying season under a closing rule; its decisions are judged.

A decision is the first time a place is called ready. Each place is its own wall, so that the wall's answer is the
place's. The rule sees only what a person would text: numbers as the meter shows them, points skipped, slips of the
thumb, late visits, a wall temperature in some houses, nothing of the truth.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from guide_service.drying.assess import assess
from guide_service.drying.assessment import Assessment
from guide_service.drying.policy import Policy
from guide_service.drying.terms import (
    BAY_POINTS,
    Air,
    Circumstances,
    Exposure,
    Place,
    Qualifier,
    Reading,
    SelfCheck,
    Wall,
)
from guide_service.rehearsal.drying_world import Houses, Shown
from guide_service.rehearsal.world_ranges import WorldRanges

START = dt.date(2031, 4, 1)
HARM_MC, LIMIT_MC = 16.0, 15.0
NEVER = 10_000


@dataclass(slots=True)
class Outcome:
    """Decisions (day of the horizon, ``NEVER`` = not within it) and visits of many places."""

    decided: np.ndarray
    visits: np.ndarray
    """(houses,) rounds made until all places were decided, or to the horizon."""
    finished: np.ndarray
    """(houses,) whether all places were decided."""


@dataclass(frozen=True, slots=True)
class Life:
    """The days on which a household is visited, whatever the rule: first day, lateness of each visit."""

    first: np.ndarray
    late: np.ndarray


def lives(houses: int, seed: int, ranges: WorldRanges | None = None) -> Life:
    ranges = ranges or WorldRanges()
    rng = np.random.default_rng(seed)
    visits = ranges.horizon_days + 1
    late = np.ceil(rng.exponential(ranges.late_days_mean, (houses, visits))).astype(int)
    on_the_day = rng.random((houses, visits)) < ranges.answers_on_the_day
    return Life(rng.integers(0, 7, houses), np.where(on_the_day, 0, late))


def readings_of(place: int, label: str, day: int, houses: Houses, shown: Shown) -> list[Reading]:
    """What the household texts of one place on one day."""
    house = place // houses.per_house
    temp = float(houses.temp_c[house, day]) if shown.temp_known[house] else None
    made = []
    for k, point in enumerate(BAY_POINTS):
        value = float(shown.value[place, day, k])
        if value != value:
            continue
        qualifier = Qualifier.EXACT
        if shown.above[place, day, k]:
            qualifier = Qualifier.ABOVE
        elif shown.below[place, day, k]:
            qualifier = Qualifier.BELOW
        made.append(
            Reading(
                f"{label}-{day}-{k}",
                label,
                point,
                value,
                START + dt.timedelta(days=day),
                f"visit-{day}",
                qualifier,
                temp_c=temp,
                self_check=SelfCheck.PASSED,
                resolution=float(shown.resolution[house]),
            )
        )
    return made


def exposure_of(houses: Houses, place: int) -> Exposure:
    """What the household said of the place when it was set up."""
    faces = WorldRanges().constructions[houses.construction[place]].faces
    return Exposure.TWO_FACES if faces == 2 else Exposure.ONE_FACE


Watch = Callable[[int, int, Assessment], None]


def live(
    houses: Houses,
    shown: Shown,
    life: Life,
    policy: Policy,
    *,
    every: int | None = None,
    air_of: Callable[[int, int], Air] | None = None,
    watch: Watch | None = None,
    only: Iterable[int] | None = None,
) -> Outcome:
    """All households under the service's own rule; ``every`` replaces its visit dates by a fixed interval [days]."""
    count = len(houses.emc_mean)
    outcome = Outcome(np.full(count * houses.per_house, NEVER), np.zeros(count, int), np.zeros(count, bool))
    for house in range(count) if only is None else only:
        _live_in(house, houses, shown, life, policy, outcome, every, air_of, watch)
    return outcome


def _live_in(
    house: int,
    houses: Houses,
    shown: Shown,
    life: Life,
    policy: Policy,
    outcome: Outcome,
    every: int | None,
    air_of: Callable[[int, int], Air] | None,
    watch: Watch | None,
) -> None:
    per = houses.per_house
    labels = [f"K{k + 1}" for k in range(per)]
    places = [Place(label, label, exposure=exposure_of(houses, house * per + k)) for k, label in enumerate(labels)]
    walls = [Wall(label, label, 1) for label in labels]
    readings: list[Reading] = []
    open_places = set(range(per))
    day, visit, horizon = int(life.first[house]), 0, houses.truth.shape[1] - 1
    while day <= horizon and open_places:
        for k in sorted(open_places):
            readings += readings_of(house * per + k, labels[k], day, houses, shown)
        today = START + dt.timedelta(days=day)
        air = air_of(house, day) if air_of else Air()
        result = assess(places, walls, readings, policy=policy, air=air, circumstances=Circumstances(), today=today)
        if watch:
            watch(house, day, result)
        for k in sorted(open_places):
            if result.walls[k].ready:
                outcome.decided[house * per + k] = day
                open_places.discard(k)
        outcome.visits[house] += 1
        due = every if every or result.next_check is None else (result.next_check.on - today).days
        day += max(due or 3, 1) + int(life.late[house, visit])
        visit += 1
    outcome.finished[house] = not open_places


def last_wet_day(houses: Houses) -> np.ndarray:
    """(n,) first day from which the truth stays below the working limit (the horizon + 1 = never)."""
    wet = houses.worst >= LIMIT_MC
    days = wet.shape[1]
    return np.where(wet.any(axis=1), days - np.argmax(wet[:, ::-1], axis=1), 0)


@dataclass(frozen=True, slots=True)
class Score:
    decisions: int
    harm: int
    """Decisions with the truth at or above 16 %."""
    above_limit: int
    """Decisions with the truth at or above 15 %."""
    lost_median: float
    lost_p90: float
    lost_mean: float
    never: float
    """Share of places that truly become dry and are never decided."""

    @property
    def harm_share(self) -> float:
        return self.harm / max(self.decisions, 1)

    @property
    def above_share(self) -> float:
        return self.above_limit / max(self.decisions, 1)

    @property
    def harm_upper(self) -> float:
        """One-sided upper 95 % bound of the share (Clopper-Pearson)."""
        from scipy.stats import beta

        return float(beta.ppf(0.95, self.harm + 1, self.decisions - self.harm)) if self.decisions else 1.0


def score(decided: np.ndarray, houses: Houses, stays: np.ndarray | None = None) -> Score:
    """Wrong decisions and days lost; a place never decided counts as decided at the horizon."""
    stays = last_wet_day(houses) if stays is None else stays
    horizon = houses.truth.shape[1] - 1
    made = np.nonzero(decided <= horizon)[0]
    truth = houses.worst[made, decided[made]]
    dries = stays <= horizon
    lost = np.maximum(np.minimum(decided, horizon) - stays, 0)[dries]
    return Score(
        decisions=made.size,
        harm=int((truth >= HARM_MC).sum()),
        above_limit=int((truth >= LIMIT_MC).sum()),
        lost_median=float(np.median(lost)),
        lost_p90=float(np.percentile(lost, 90)),
        lost_mean=float(lost.mean()),
        never=float((decided[dries] > horizon).mean()),
    )
