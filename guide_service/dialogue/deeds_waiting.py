"""Deeds of what waits to be asked: kept in the slots, taken once it is certain, or dropped."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from guide_service.dialogue.check import Unplaced, resolve
from guide_service.dialogue.context import Context
from guide_service.dialogue.deeds_readings import take, take_for
from guide_service.dialogue.events import PlaceNamed, ReadingHeard, ReadingsHeard, Unclear, WhyUnclear
from guide_service.dialogue.pending import (
    drop_unclear,
    drop_unknown,
    heard_again,
    kind_of,
    queue_unclear,
    queue_unknown,
)
from guide_service.dialogue.places_brought import make_place
from guide_service.drying.terms import Point


def queue_from_event(sheet: Context) -> None:
    """What the text left open: a place is asked with its numbers waiting, a bare number is asked for its place."""
    item = sheet.event.value
    if not isinstance(item, Unclear):
        return
    if item.why == WhyUnclear.NOT_A_READING and item.suggestion is not None and item.place is None and sheet.places:
        _ask_lonely(sheet, item)
    else:
        take(sheet, resolve(ReadingsHeard((), (item,)), sheet))


def _ask_lonely(sheet: Context, item: Unclear) -> None:
    """A number in a sentence ("my house number is 16") is read back with the only place that it can be of, or asked."""
    lonely = ReadingHeard(None, None, item.suggestion, raw=item.raw)
    resolved = resolve(ReadingsHeard((lonely,)), sheet)
    for new in resolved.readings:
        place = PlaceNamed(new.reading.place, new.reading.place)
        queue_unclear(sheet.slots, replace(item, place=place, point=new.reading.point))
    resolved.readings = []
    take(sheet, resolved)


def _forget_unclear(sheet: Context) -> None:
    drop_unclear(sheet.slots)


def _forget_unknown(sheet: Context) -> None:
    drop_unknown(sheet.slots)


def _forget_all_unknown(sheet: Context) -> None:
    """The person sends the numbers anew: what waited is asked no more."""
    sheet.slots.pop("unknown", None)


def _forget_waiting(sheet: Context) -> None:
    """The next check has come: numbers of the one before that were never explained are asked about no more."""
    sheet.slots.pop("unclear", None)
    _forget_all_unknown(sheet)


def _again(sheet: Context, rows: list[dict[str, object]], point: Point | None = None) -> None:
    """What waited is certain now."""
    label = str(rows[0].get("place") or "") if rows else ""
    items = [heard_again(row, label) for row in rows]
    corrects = any(row.get("corrects") is True for row in rows)
    take_for(sheet, label, [replace(item, point=point or item.point) for item in items], corrects=corrects)


def take_suggestion(sheet: Context) -> None:
    rows = drop_unclear(sheet.slots)
    if not rows or rows[0].get("place"):
        _again(sheet, rows)
        return
    words = str(rows[0].get("words") or "")
    place = PlaceNamed(None, words) if words else None
    items = [replace(heard_again(row, ""), place=place) for row in rows]
    if place is None:
        queue_unknown(sheet.slots, items, "")
    else:
        take(sheet, resolve(ReadingsHeard(tuple(items)), sheet))


def take_number(sheet: Context) -> None:
    """The number that was meant, in place of the one that was read back."""
    rows = drop_unclear(sheet.slots)
    _again(sheet, [{**row, "suggestion": sheet.event.value, "raw": sheet.event.raw} for row in rows[:1]])


def take_for_point(sheet: Context) -> None:
    _again(sheet, drop_unclear(sheet.slots), Point(str(sheet.event.value)))


def add_unknown_place(sheet: Context) -> None:
    group = drop_unknown(sheet.slots)
    if group is not None:
        _take_group(sheet, make_place(sheet, Unplaced((), str(group["words"])), kind_of(group)), group)


def take_unknown_as(sheet: Context) -> None:
    group = drop_unknown(sheet.slots)
    if group is not None:
        _take_group(sheet, str(sheet.event.value), group)


def _take_group(sheet: Context, label: str, group: Mapping[str, Any]) -> None:
    take_for(sheet, label, [heard_again(row, label) for row in group["items"]])


DEEDS: dict[str, Callable[[Context], None]] = {
    "queue_unclear": queue_from_event,
    "drop_unclear": _forget_unclear,
    "drop_unknown": _forget_unknown,
    "drop_all_unknown": _forget_all_unknown,
    "drop_waiting": _forget_waiting,
    "take_suggestion": take_suggestion,
    "take_for_point": take_for_point,
    "take_number": take_number,
    "add_unknown_place": add_unknown_place,
    "take_unknown_as": take_unknown_as,
}
