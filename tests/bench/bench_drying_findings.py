"""Stalls by cause and forecast ranges in the simulated world. Run alone: python -m tests.bench drying_findings"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from guide_service.drying.assessment import Assessment, FindingKind, ForecastKind
from guide_service.drying.policy import Policy
from guide_service.drying.terms import Air
from guide_service.drying.wood import humidity_over
from guide_service.rehearsal.drying_world import Houses, Shown, build, read
from guide_service.rehearsal.world_ranges import CENTRAL
from tests.bench.drying_judge import NEVER, START, Life, Outcome, last_wet_day, live, lives

Row = dict[str, object]

SEED = 4077
STALL_HOUSES, RANGE_HOUSES, PER_HOUSE = 400, 120, 6
FLAT_DAYS = 30
SLOW = (FindingKind.STALLED, FindingKind.TOO_SLOW)


def row(name: str, value: object, target: str = "", holds: bool | None = None) -> Row:
    return {"name": f"drying: {name}", "value": value, "target": target, "holds": holds}


@dataclass(slots=True)
class Diary:
    """What the service said at each visit."""

    per_house: int
    visits: dict[int, list[int]] = field(default_factory=lambda: defaultdict(list))
    found: dict[int, list[tuple[int, FindingKind]]] = field(default_factory=lambda: defaultdict(list))
    dated: list[tuple[int, int, int, int, int]] = field(default_factory=list)
    """(place, day, earliest, likely, latest) of every forecast with a date, in days of the horizon."""
    undated: int = 0
    """Forecasts asked for (in range, not dry, three checks) that gave no date."""

    def watch(self, house: int, day: int, result: Assessment) -> None:
        self.visits[house].append(day)
        for finding in result.findings:
            for label in finding.places:
                self.found[house * self.per_house + int(label[1:]) - 1].append((day, finding.kind))
        for k, verdict in enumerate(result.verdicts):
            told = verdict.forecast
            if told is None or told.kind not in (
                ForecastKind.DATE,
                ForecastKind.CANNOT_TELL,
                ForecastKind.AIR_CANNOT_DRY,
            ):
                continue
            if told.kind is not ForecastKind.DATE:
                self.undated += len(self.visits[house]) >= 3
            elif told.earliest and told.likely and told.latest:
                dates = [(date - START).days for date in (told.earliest, told.likely, told.latest)]
                self.dated.append((house * self.per_house + k, day, *dates))


def reported_air(houses: Houses, off: float = 0.0, *, mean: bool = False) -> Callable[[int, int], Air]:
    """The air of the house as somebody reads it off: the day's, or the season's mean, a point of equilibrium off."""

    def air_of(house: int, day: int) -> Air:
        temp = float(np.clip(houses.temp_c[house, day], 1.0, 40.0))
        end = houses.emc[house].mean() if mean else houses.emc[house, day]
        rh = float(humidity_over(min(float(end) + off, 27.0), temp))
        return Air(indoor_temp_c=temp, indoor_rh=rh, source="reported")

    return air_of


@dataclass(frozen=True, slots=True)
class Season:
    houses: Houses
    shown: Shown
    diary: Diary
    outcome: Outcome
    stays: np.ndarray


def season() -> Season:
    houses = build(SEED, STALL_HOUSES, PER_HOUSE)
    shown, diary = read(houses, SEED + 1, CENTRAL), Diary(PER_HOUSE)
    outcome = live(houses, shown, lives(STALL_HOUSES, SEED + 2), Policy(), watch=diary.watch)
    return Season(houses, shown, diary, outcome, last_wet_day(houses))


def in_range_visits(s: Season, place: int) -> list[int]:
    """Visits to a place until its decision with no point over range."""
    until = min(s.outcome.decided[place], NEVER)
    visits = [day for day in s.diary.visits[place // PER_HOUSE] if day <= until]
    return [day for day in visits if not s.shown.above[place, day].any()]


def stalls(s: Season) -> list[Row]:
    covered, normal, bare = [], [], []
    house = np.arange(s.stays.size) // PER_HOUSE
    for place in range(s.stays.size):
        visits = in_range_visits(s, place)
        if len(visits) < 4 or np.isfinite(s.houses.new_water_day[place]) or s.houses.humid[house[place]]:
            continue
        flags = [day for day, kind in s.diary.found[place] if kind in SLOW]
        if s.stays[place] - visits[3] > FLAT_DAYS:
            kind_of_place = covered if s.houses.covered[place] else bare
            kind_of_place.append(any(day <= visits[3] for day in flags))
        elif not s.houses.covered[place] and s.stays[place] - visits[0] <= FLAT_DAYS:
            wet = [day for day, kind in s.diary.found[place] if kind is FindingKind.REWETTED]
            normal.append(bool(flags or wet))
    found = float(np.mean(covered + bare))
    text = f"{found:.3f} of {len(covered + bare)} (covered {np.mean(covered):.3f}, open {np.mean(bare):.3f})"
    return [
        row("flat place found at its fourth check in range", text, "at least 0.85", found >= 0.85),
        row(
            "places that dry within 30 days ever flagged as stalled, slow or rewetted",
            f"{np.mean(normal):.3f} of {len(normal)}",
            "at most 0.05",
            float(np.mean(normal)) <= 0.05,
        ),
    ]


def new_water(s: Season) -> list[Row]:
    hits = []
    for place in np.nonzero(np.isfinite(s.houses.new_water_day))[0]:
        event = s.houses.new_water_day[place]
        until = s.outcome.decided[place]
        visits = [day for day in s.diary.visits[place // PER_HOUSE] if day <= until]
        before, after = [d for d in visits if d < event], [d for d in visits if d >= event]
        if not before or len(after) < 2 or s.shown.above[place, before[-1]].any():
            continue
        hits.append(any(kind is FindingKind.REWETTED and day in after[:2] for day, kind in s.diary.found[place]))
    text = f"{np.mean(hits):.3f} of {len(hits)} places in range before it"
    return [row("new water found within two checks", text, "at least 0.90", float(np.mean(hits)) >= 0.9)]


def humid_air() -> list[Row]:
    """The first visit of houses whose air is reported."""
    houses = build(SEED + 5, 1500, 1)
    shown, life, diary = read(houses, SEED + 6, CENTRAL), lives(1500, SEED + 7), Diary(1)
    for house in range(1500):
        live(
            houses,
            shown,
            _one_visit(life),
            Policy(),
            air_of=reported_air(houses),
            watch=diary.watch,
            only=[house],
        )
    told = np.array([any(kind is FindingKind.AIR_TOO_HUMID for _, kind in diary.found[k][:1]) for k in range(1500)])
    humid = float(told[houses.humid].mean())
    text = (
        f"{humid:.3f} of {int(houses.humid.sum())} (air of other houses on that day: {told[~houses.humid].mean():.3f})"
    )
    return [row("humid air found at the first visit", text, "at once", humid >= 0.95)]


def _one_visit(life: Life) -> Life:
    """The same household, never heard of again after its first visit."""
    return Life(life.first, np.full_like(life.late, 1000))


def ranges(name: str, air: Callable[[Houses], Callable[[int, int], Air]] | None) -> list[Row]:
    """Coverage, share dated and width of the 80 % range, places with new water left out (nobody can foresee it)."""
    houses = build(SEED + 9, RANGE_HOUSES, PER_HOUSE)
    shown, diary, stays = read(houses, SEED + 10, CENTRAL), Diary(PER_HOUSE), last_wet_day(houses)
    life = lives(RANGE_HOUSES, SEED + 11)
    live(houses, shown, life, Policy(), air_of=air(houses) if air else None, watch=diary.watch)
    told = np.array([entry for entry in diary.dated if np.isinf(houses.new_water_day[entry[0]])])
    truth = np.maximum(stays[told[:, 0]], told[:, 1])
    inside = float(((truth >= told[:, 2]) & (truth <= told[:, 4])).mean())
    dated = len(diary.dated) / (len(diary.dated) + diary.undated)
    width = np.median(told[:, 4] - told[:, 2])
    miss = np.median(np.abs(told[:, 3] - truth))
    asked = len(diary.dated) + diary.undated
    text = f"covers {inside:.3f}, dated {dated:.3f} of {asked}, width {width:.0f} d, likely day off by {miss:.0f} d"
    target = "covers 0.74 to 0.88, dated at least 0.60"
    return [row(f"80 % range, {name}", text, target, 0.74 <= inside <= 0.88 and dated >= 0.6)]


def run() -> list[Row]:
    one = season()
    rows = stalls(one) + new_water(one) + humid_air()
    rows += ranges("air known (season's mean)", lambda h: reported_air(h, mean=True))
    rows += ranges("air one point too wet", lambda h: reported_air(h, 1.0, mean=True))
    rows += ranges("air one point too dry", lambda h: reported_air(h, -1.0, mean=True))
    rows += ranges("air as read off each day", reported_air)
    return rows + ranges("air not known", None)
