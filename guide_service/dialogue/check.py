"""From what was heard to readings of places and points: what is certain is taken, what is not is asked.

A bare number belongs to the place and point that were asked for; three numbers of a bay are plate, low stud, mid stud
in that order; the first numbers of a bay in a check are its first points, and the answer says which, so that the person
can object. Numbers that come for a bay once it has some of that check go on with its points only where that is plain:
where just these were asked for, or where they are as many as are missing. A lone number may put an earlier one right,
and then it is that point's; else its point is asked.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from guide_service.dialogue.answers.figures import swapped
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
    groups = _by_place(heard.items, sheet, result)
    for label, items in groups:
        place = sheet.place(label)
        assert place is not None
        answers = len(groups) == 1 and sheet.asked.place == label
        free = free_points(place, items, taken_on, sheet, sheet.asked.points if answers else ())
        _points_of(place, items, taken_on, heard.temp_c, sheet, result, free)
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
    free: list[Point] | None,
) -> None:
    """``free``: where the numbers without a point go; ``None``: nobody can tell, so it is asked."""
    named = PlaceNamed(place.label, place.label)
    for item in items:
        point = item.point or _own_point(place, item)
        if point is None and free is None:
            result.unclear.append(Unclear(WhyUnclear.WHICH_POINT, item.raw, named, None, item.value))
            continue
        if point is None:
            if not free:
                result.unclear.append(Unclear(WhyUnclear.MANY_NUMBERS, item.raw, named, None, item.value))
                continue
            point = free.pop(0)
        result.readings.append(_reading(place, point, item, taken_on, temp_c, sheet, len(result.readings)))


def free_points(
    place: Place, items: list[ReadingHeard], taken_on: dt.date, sheet: Context, asked: Sequence[Point]
) -> list[Point] | None:
    """Points that unnamed numbers of this text fall to, in order; ``None``: it cannot be told.

    ``asked``: the points of this place that the open question waits for, where the text answers it.
    """
    if place.kind != PlaceKind.BAY:
        return [Point.WOOD] * len(items)
    named = {item.point for item in items if item.point}
    unnamed = [item for item in items if item.point is None and _own_point(place, item) is None]
    if not place.followed:
        return [Point.PLATE] if Point.PLATE not in named else []
    if len(unnamed) >= len(BAY_POINTS):
        return [point for point in BAY_POINTS if point not in named]
    before = _of_this_check(place, taken_on, sheet)
    if not before or not unnamed:
        return [point for point in BAY_POINTS if point not in named]
    asked_now = [point for point in asked if point not in before and point not in named]
    if len(asked_now) >= len(unnamed):
        return asked_now
    if len(unnamed) == 1:
        meant = _said_again(place, unnamed[0].value, before, sheet)
        return None if meant is None else [meant]
    left = [point for point in BAY_POINTS if point not in before and point not in named]
    return left if len(left) == len(unnamed) else None


def _of_this_check(place: Place, taken_on: dt.date, sheet: Context) -> dict[Point, Reading]:
    """What the place reads in the check of that day, or in an earlier part of the round that was interrupted."""
    wood = [r for r in sheet.readings() if r.place == place.label and r.point in BAY_POINTS and r.taken_on <= taken_on]
    today = {r.point: r for r in wood if r.taken_on == taken_on}
    since = sheet.round_since()
    if today or since is None or taken_on != sheet.facts.today:
        return today
    earlier = {r.point: r for r in wood if r.taken_on >= since}
    return earlier if len(earlier) < len(BAY_POINTS) else {}


def _said_again(place: Place, value: float | None, before: Mapping[Point, Reading], sheet: Context) -> Point | None:
    """The point that a lone number is said of once more: of a place that is read at one point only, of the same value,
    of the same digits the other way round."""
    ever = {r.point for r in sheet.readings() if r.place == place.label and r.point in BAY_POINTS}
    checks = {r.taken_on for r in sheet.readings() if r.place == place.label}
    if len(ever) == 1 and len(checks) > 1:
        return next(iter(ever))
    return point_of_slip(value, before)


def point_of_slip(value: float | None, before: Mapping[Point, Reading]) -> Point | None:
    """The only point whose number ``value`` repeats or turns round; ``None``: none, or more than one."""
    if value is None:
        return None
    alike = [point for point, reading in before.items() if reading.value in (value, swapped(value))]
    return alike[0] if len(alike) == 1 else None


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
