"""What a volunteer read at a house, understood as a text of the same words would be. Pure.

The readings are a third party's: unconfirmed, so that no wall is ready by them. What is not certain is given back to be
asked again, with the number that may be meant.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from guide_service.dialogue.answers import understand
from guide_service.dialogue.check import resolve
from guide_service.dialogue.context import Context
from guide_service.dialogue.effects import Effect, RecordReadings, SetCheck
from guide_service.dialogue.events import (
    Asked,
    EventName,
    Listening,
    PlaceNamed,
    ReadingHeard,
    ReadingsHeard,
    Unclear,
    WhyUnclear,
)
from guide_service.dialogue.facts import CheckFacts, Facts
from guide_service.dialogue.outcome import store_assessment
from guide_service.drying.terms import BAY_POINTS, Mode, Place, PlaceKind, Point, Qualifier

_WORDS = {Point.PLATE: "plate", Point.LOW_STUD: "low stud", Point.MID_STUD: "mid stud", Point.WOOD: ""}
_SIGNS = {"<": Qualifier.BELOW, ">": Qualifier.ABOVE}
MOST_LETTERS = 20
LANGUAGE = "en"
"""Of the words around the number, which are ours."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What was typed for one point of one place."""

    place: str
    point: Point
    typed: str
    sure: str = ""
    """The number that was asked about before, and is right."""


@dataclass(frozen=True, slots=True)
class Doubt:
    entry: Entry
    why: WhyUnclear
    suggestion: float | None = None


@dataclass(slots=True)
class Heard:
    items: list[ReadingHeard] = field(default_factory=list)
    doubts: list[Doubt] = field(default_factory=list)


def points_of(place: Place) -> tuple[Point, ...]:
    return BAY_POINTS if place.kind == PlaceKind.BAY else (Point.WOOD,)


def hear(entries: Sequence[Entry], listening: Listening, lexicons: Mapping[str, Any]) -> Heard:
    heard = Heard()
    for entry in entries:
        found = _hear_one(entry, listening, lexicons)
        (heard.doubts if isinstance(found, Doubt) else heard.items).append(found)  # type: ignore[arg-type]
    return heard


def _hear_one(entry: Entry, listening: Listening, lexicons: Mapping[str, Any]) -> ReadingHeard | Doubt:
    typed = entry.typed[:MOST_LETTERS]
    events = understand(f"{entry.place} {_WORDS[entry.point]} {typed}", listening, lexicons)
    value = events[0].value if len(events) == 1 else None
    if isinstance(value, ReadingsHeard) and len(value.items) == 1 and not value.unclear and _is_plain(value):
        item = value.items[0]
        if _is_of(item, entry) and len(entry.typed) <= MOST_LETTERS:
            return replace(item, point=entry.point, raw=entry.typed)
    unclear = _unclear_of(value)
    if unclear is None or unclear.suggestion is None or events[0].name == EventName.DANGER:
        return Doubt(entry, unclear.why if unclear else WhyUnclear.NOT_A_READING)
    if entry.sure == f"{unclear.suggestion:g}":
        place, sign = PlaceNamed(entry.place, entry.place), _SIGNS.get(entry.typed[:1], Qualifier.EXACT)
        return ReadingHeard(place, entry.point, unclear.suggestion, sign, raw=entry.typed)
    return Doubt(entry, unclear.why, unclear.suggestion)


def _is_plain(heard: ReadingsHeard) -> bool:
    return heard.taken_on is None and heard.temp_c is None and heard.humidity is None


def _is_of(item: ReadingHeard, entry: Entry) -> bool:
    """Of this place and point, in wood: another material or a colour is not what the field asks for."""
    named = item.place is not None and item.place.label == entry.place and item.point in {None, entry.point}
    return named and item.material is None and item.colour is None and item.mode is None


def _unclear_of(value: object) -> Unclear | None:
    if isinstance(value, Unclear):
        return value
    if isinstance(value, ReadingsHeard) and len(value.unclear) == 1 and not value.items:
        return value.unclear[0]
    return None


def plan_visit(
    facts: Facts,
    items: Sequence[ReadingHeard],
    taken_on: dt.date,
    mode: Mode,
    replaced: Mapping[tuple[str, Point], str],
) -> tuple[Effect, ...]:
    """What it does to the records. ``replaced``: own readings of that day, which these take the place of."""
    sheet = Context.of(replace(facts.with_another_meter(), role="volunteer"), {}, Asked(), {})
    resolved = resolve(ReadingsHeard(tuple(replace(item, mode=mode) for item in items), taken_on=taken_on), sheet)
    new = [replace(r, replaces=replaced.get((r.reading.place, r.reading.point))) for r in resolved.readings]
    sheet.new_readings.extend(new)
    sheet.checks.setdefault(taken_on, CheckFacts())
    sheet.add(SetCheck(taken_on), RecordReadings(tuple(new)))
    sheet.forget_assessment()
    store_assessment(sheet, tuple(dict.fromkeys(r.reading.place for r in new)))
    return tuple(sheet.effects)
