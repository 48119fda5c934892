"""Readings put in order: by place, then by check, then by point, each judged once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from guide_service.drying.meter import Judged, Weight, judge
from guide_service.drying.policy import Policy
from guide_service.drying.terms import (
    BAY_POINTS,
    Material,
    Place,
    PlaceKind,
    Point,
    Qualifier,
    Reading,
    SelfCheck,
)


@dataclass(slots=True)
class Check:
    """All readings of one place at one visit."""

    id: str
    on: dt.date
    wood: dict[Point, Judged] = field(default_factory=dict)
    """Latest number of each wood point that gives a band (weight above ``WORSENS``)."""
    others: list[Judged] = field(default_factory=list)
    """Relative, pinless, colour and failed-meter readings, and a *below* that is not proven."""
    aside: list[Judged] = field(default_factory=list)
    """Treated plates that an agent has accepted: they no longer decide, but must not rise."""

    counting: list[Judged] = field(default_factory=list)
    """Those of ``wood`` that count in full."""
    top: Judged | None = None
    """The wettest wood point; over-range outranks every number."""

    def settle(self) -> None:
        """Work out what the check is asked for again and again, once its readings are in."""
        judged = self.wood.values()
        self.counting = [one for one in judged if one.weight is Weight.COUNTS]
        self.top = max(judged, key=wetness, default=None)


@dataclass(slots=True)
class History:
    place: Place
    checks: list[Check]
    """In order of time."""


def is_treated_plate(place: Place, judged: Judged) -> bool:
    """Whether the reading stands on preservative-treated wood, which reads high."""
    reading = judged.reading
    return reading.material is Material.TREATED or (bool(place.treated_plate) and reading.point is Point.PLATE)


def required_points(place: Place, policy: Policy) -> tuple[Point, ...]:
    """Points that a full check of the place reads."""
    if place.kind is PlaceKind.BAY:
        return BAY_POINTS[: policy.points_per_place]
    return (Point.WOOD,)


def points_needed(place: Place, policy: Policy) -> int:
    """How many wood points a full check of the place has."""
    return policy.points_per_place if place.kind is PlaceKind.BAY else 1


def proven_below(readings: Sequence[Reading]) -> frozenset[str]:
    """Ids of *below range* readings that count: self-check passed and another push at the same point agrees."""
    pushes: dict[Point, list[Reading]] = {}
    for reading in readings:
        believed = reading.self_check is SelfCheck.PASSED and reading.recall is None
        if reading.qualifier is Qualifier.BELOW and believed:
            pushes.setdefault(reading.point, []).append(reading)
    return frozenset(reading.id for same in pushes.values() if len(same) > 1 for reading in same)


def group(
    places: Iterable[Place],
    readings: Sequence[Reading],
    policy: Policy,
    assumed_c: float | None = None,
    treated_confirmed: frozenset[str] = frozenset(),
) -> dict[str, History]:
    """Histories by label, in the order of ``places``; readings of unknown places are left out."""
    by_place: dict[str, list[Reading]] = {place.label: [] for place in places}
    for reading in readings:
        if reading.place in by_place:
            by_place[reading.place].append(reading)
    return {
        place.label: history_of(place, by_place[place.label], policy, assumed_c, place.label in treated_confirmed)
        for place in places
    }


def history_of(
    place: Place,
    readings: Sequence[Reading],
    policy: Policy,
    assumed_c: float | None = None,
    treated_confirmed: bool = False,
) -> History:
    """One place's checks in order of time; within a check the latest number of a point stands."""
    proven = proven_below(readings)
    checks: dict[tuple[str, dt.date], Check] = {}
    for reading in readings:
        check = checks.get((reading.check, reading.taken_on))
        if check is None:
            check = checks[reading.check, reading.taken_on] = Check(reading.check, reading.taken_on)
        judged = judge(reading, policy, assumed_c)
        unproven = reading.qualifier is Qualifier.BELOW and reading.id not in proven
        if judged.weight is Weight.WORSENS or unproven:
            check.others.append(judged)
        elif treated_confirmed and is_treated_plate(place, judged):
            check.aside.append(judged)
        else:
            check.wood[reading.point] = judged
    for check in checks.values():
        check.settle()
    return History(place, sorted(checks.values(), key=_day))


def _day(check: Check) -> dt.date:
    return check.on


def after(history: History, day: dt.date | None) -> History:
    """The history without the checks on or before ``day`` (new floodwater voids them)."""
    if day is None:
        return history
    return History(history.place, [check for check in history.checks if check.on > day])


def wetness(judged: Judged) -> tuple[bool, float]:
    return judged.reading.qualifier is Qualifier.ABOVE, judged.mc


def by_wall(histories: Mapping[str, History]) -> dict[str, list[History]]:
    """Histories of each wall's places, reference wood left out."""
    walls: dict[str, list[History]] = {}
    for history in histories.values():
        if history.place.kind is not PlaceKind.REFERENCE:
            walls.setdefault(history.place.wall, []).append(history)
    return walls
