"""From what was heard to readings of places and points: what is certain is taken, what is not is asked.

A bare number belongs to the place and point that were asked for; three numbers of a bay are plate, low stud, mid stud
in that order; one number of a bay is its next unread point, and the answer says which, so that the person can object.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from guide_service.dialogue.context import Context
from guide_service.dialogue.effects import NewReading
from guide_service.dialogue.events import PlaceNamed, ReadingHeard, ReadingsHeard, Unclear, WhyUnclear
from guide_service.drying.terms import (
    BAY_POINTS,
    RELATIVE_MATERIALS,
    Material,
    Mode,
    Place,
    PlaceKind,
    Point,
    Reading,
)

LABEL = re.compile(r"[A-Z]{1,2}[1-9]\d{0,2}")


@dataclass(frozen=True, slots=True)
class Unplaced:
    """Readings whose place is not certain."""

    items: tuple[ReadingHeard, ...]
    words: str
    labels: tuple[str, ...] = ()

    @property
    def label(self) -> str | None:
        """The words, where they look like one of our labels."""
        plain = self.words.upper().replace(" ", "").replace("-", "")
        return plain if LABEL.fullmatch(plain) else None

    @property
    def kind(self) -> PlaceKind:
        return next((item.place.kind for item in self.items if item.place and item.place.kind), PlaceKind.BAY)


@dataclass(slots=True)
class Resolved:
    readings: list[NewReading] = field(default_factory=list)
    unclear: list[Unclear] = field(default_factory=list)
    unplaced: list[Unplaced] = field(default_factory=list)


def resolve(heard: ReadingsHeard, sheet: Context) -> Resolved:
    """Give every item its place and point. Pure: nothing of the sheet is changed."""
    result = Resolved()
    for unclear in heard.unclear:
        if unclear.why == WhyUnclear.WHICH_PLACE and unclear.items:
            words = unclear.place.words if unclear.place else ""
            result.unplaced.append(Unplaced(unclear.items, words, unclear.labels))
        else:
            result.unclear.append(unclear)
    taken_on = heard.taken_on or sheet.facts.today
    for label, items in _by_place(heard.items, sheet, result):
        place = sheet.place(label)
        assert place is not None
        _points_of(place, items, taken_on, heard.temp_c, sheet, result)
    return result


def _by_place(items: Sequence[ReadingHeard], sheet: Context, result: Resolved) -> list[tuple[str, list[ReadingHeard]]]:
    groups: dict[str, list[ReadingHeard]] = {}
    elsewhere: dict[str, list[ReadingHeard]] = {}
    for item in items:
        label = _label(item.place, sheet)
        if label is not None:
            groups.setdefault(label, []).append(item)
        else:
            elsewhere.setdefault((item.place.label or item.place.words) if item.place else "", []).append(item)
    result.unplaced += [Unplaced(tuple(found), words) for words, found in elsewhere.items()]
    return list(groups.items())


def _label(named: PlaceNamed | None, sheet: Context) -> str | None:
    if named is not None:
        return named.label if named.label and sheet.place(named.label) else None
    if sheet.asked.place and sheet.place(sheet.asked.place):
        return sheet.asked.place
    followed = sheet.followed()
    return followed[0].label if len(followed) == 1 else None


def _points_of(
    place: Place,
    items: list[ReadingHeard],
    taken_on: dt.date,
    temp_c: float | None,
    sheet: Context,
    result: Resolved,
) -> None:
    free = _free_points(place, items, sheet)
    for item in items:
        point = item.point or _own_point(place, item)
        if point is None:
            if not free:
                result.unclear.append(
                    Unclear(WhyUnclear.MANY_NUMBERS, item.raw, PlaceNamed(place.label, place.label), None, item.value)
                )
                continue
            point = free.pop(0)
        result.readings.append(_reading(place, point, item, taken_on, temp_c, sheet, len(result.readings)))


def _free_points(place: Place, items: list[ReadingHeard], sheet: Context) -> list[Point]:
    """Points that unnamed numbers of this text fall to, in order."""
    if place.kind != PlaceKind.BAY:
        return [Point.WOOD] * len(items)
    named = {item.point for item in items if item.point}
    unnamed = [item for item in items if item.point is None and _own_point(place, item) is None]
    if not place.followed:
        return [Point.PLATE] if Point.PLATE not in named else []
    if len(unnamed) >= len(BAY_POINTS):
        return [point for point in BAY_POINTS if point not in named]
    left = next((points for label, points in sheet.missing() if label == place.label), ())
    pool = left if len(left) >= len(unnamed) else BAY_POINTS
    return [point for point in pool if point not in named]


def _own_point(place: Place, item: ReadingHeard) -> Point | None:
    if item.material in RELATIVE_MATERIALS:
        return Point.SURFACE
    if item.material == Material.SHEATHING:
        return Point.SHEATHING
    if item.colour is not None and item.value is None:
        return Point.SURFACE if place.kind == PlaceKind.BAY else Point.WOOD
    return None if place.kind == PlaceKind.BAY else Point.WOOD


def _reading(
    place: Place,
    point: Point,
    item: ReadingHeard,
    taken_on: dt.date,
    temp_c: float | None,
    sheet: Context,
    number: int,
) -> NewReading:
    material = item.material or Material.WOOD
    if material == Material.WOOD and point == Point.PLATE and place.treated_plate:
        material = Material.TREATED
    visit = sheet.visit(taken_on)
    reading = Reading(
        id=f"new:{len(sheet.new_readings) + number}",
        place=place.label,
        point=point,
        value=item.value,
        taken_on=taken_on,
        check=taken_on.isoformat(),
        qualifier=item.qualifier,
        material=material,
        mode=item.mode or (Mode.COLOUR if item.colour and item.value is None else visit.mode),
        colour=item.colour,
        temp_c=temp_c,
        self_check=visit.self_check,
        resolution=item.resolution,
        confirmed=not sheet.facts.third_party,
        recall=sheet.facts.recall_on(taken_on),
    )
    return NewReading(reading, item.raw)
