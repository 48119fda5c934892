"""Deeds of a check: readings taken, what is unclear kept and asked, corrections, the second push."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from guide_service.dialogue.check import Resolved, Unplaced, resolve
from guide_service.dialogue.context import Context
from guide_service.dialogue.corrections import put_right
from guide_service.dialogue.deeds_places import add_place, highest_number, start_wall
from guide_service.dialogue.deeds_round import begin_round
from guide_service.dialogue.effects import (
    NewReading,
    RecordReadings,
    SetCheck,
    WithdrawReadings,
)
from guide_service.dialogue.events import PlaceNamed, ReadingHeard, ReadingsHeard, Unclear, WhyUnclear
from guide_service.dialogue.facts import CheckFacts
from guide_service.dialogue.labels import number_of
from guide_service.dialogue.outcome import store_assessment
from guide_service.dialogue.pending import (
    drop_unclear,
    drop_unknown,
    heard_again,
    kind_of,
    queue_unclear,
    queue_unknown,
)
from guide_service.drying.terms import PlaceKind, Point, Qualifier, Reading

# --- readings -----------------------------------------------------------------------------------------------------


def hear_readings(sheet: Context) -> None:
    heard = sheet.event.value
    if isinstance(heard, ReadingsHeard):
        _take(sheet, resolve(heard, sheet), heard.temp_c)


def _take(sheet: Context, resolved: Resolved, temp_c: float | None = None, *, corrects: bool = False) -> None:
    """A point that was read in this check already keeps its newest number; the earlier one stays in the history."""
    resolved.readings = [
        replace(new, replaces=new.replaces or earlier_of_check(sheet, new)) for new in resolved.readings
    ]
    for item in resolved.unclear:
        queue_unclear(sheet.slots, item, corrects=corrects)
    if resolved.readings:
        _accept(sheet, resolved.readings, temp_c)
    for unplaced in resolved.unplaced:
        _take_unplaced(sheet, unplaced)


def _accept(sheet: Context, readings: list[NewReading], temp_c: float | None = None) -> None:
    for new in readings:
        sheet.new_readings.append(new)
        if new.reading.place not in sheet.touched:
            sheet.touched.append(new.reading.place)
    if sheet.round_since() is None:
        begin_round(sheet)
    days = {new.reading.taken_on for new in readings}
    for day in sorted(days):
        sheet.checks.setdefault(day, CheckFacts())
        sheet.add(SetCheck(day, temp_c=temp_c, meter=_whose_meter(sheet) if day not in sheet.facts.checks else None))
    sheet.add(RecordReadings(tuple(readings)))
    sheet.forget_assessment()


def _whose_meter(sheet: Context) -> str | None:
    meter = sheet.facts.household.get("meter")
    whose = meter.get("whose") if isinstance(meter, dict) else None
    return str(whose)[:40] if whose else None


def _take_unplaced(sheet: Context, found: Unplaced) -> None:
    """A bay of a known wall, or the first places of a household, are taken; anything else is asked."""
    letter, number = (found.label or "").rstrip("0123456789"), number_of(found.label or "")
    if not found.words and not sheet.followed():
        queue_unclear(sheet.slots, Unclear(WhyUnclear.NOT_A_READING, found.items[0].raw))
    elif len(found.labels) > 1 or not found.words:
        queue_unknown(sheet.slots, found.items, found.words, found.labels)
    elif found.label and sheet.wall(letter) and _within(sheet, letter, number):
        label = add_place(sheet, letter, number, PlaceKind.BAY, followed=_still_setting_up(sheet, letter))
        _take_for(sheet, label, found.items)
    elif not sheet.facts.places:
        _take_for(sheet, _first_place(sheet, found), found.items)
    else:
        queue_unknown(sheet.slots, found.items, found.words)


def _take_for(sheet: Context, label: str, items: Sequence[ReadingHeard], *, corrects: bool = False) -> None:
    placed = tuple(replace(item, place=PlaceNamed(label, label)) for item in items)
    if sheet.place(label) is None:
        return
    if corrects:
        _correct(sheet, ReadingsHeard(placed))
    else:
        _take(sheet, resolve(ReadingsHeard(placed), sheet))


def _within(sheet: Context, letter: str, number: int) -> bool:
    wall = sheet.wall(letter)
    return wall is not None and (wall.bays is None or 1 <= number <= wall.bays)


def _still_setting_up(sheet: Context, letter: str) -> bool:
    """A bay that first comes in the sweep before closing is not followed; in the first days it is."""
    followed = [place for place in sheet.followed() if place.wall == letter]
    verdicts = {v.place: v.band for v in sheet.assessment().verdicts}
    return not followed or not all(verdicts.get(place.label) == "dry" for place in followed)


def _first_place(sheet: Context, found: Unplaced) -> str:
    """Before anything was set up, the first text names the places: nobody is sent away to register first."""
    bays = None if found.kind == PlaceKind.BAY else 0
    if found.label:
        letter = found.label.rstrip("0123456789")
        if sheet.wall(letter) is None:
            letter = start_wall(sheet, letter, found.kind, bays)
        return add_place(sheet, letter, number_of(found.label), found.kind)
    known = _label_of_words(sheet, found.words)
    return known or add_place(sheet, start_wall(sheet, found.words, found.kind, bays), 1, found.kind)


def _label_of_words(sheet: Context, words: str) -> str | None:
    wall = next((w for w in sheet.walls if w.name.casefold() == words.casefold()), None)
    return next((place.label for place in sheet.places if wall and place.wall == wall.id), None)


# --- what waits to be asked ---------------------------------------------------------------------------------------


def queue_from_event(sheet: Context) -> None:
    """What the text left open: a place is asked with its numbers waiting, a bare number is asked for its place."""
    item = sheet.event.value
    if not isinstance(item, Unclear):
        return
    if item.why == WhyUnclear.NOT_A_READING and item.suggestion is not None and item.place is None and sheet.places:
        _ask_lonely(sheet, item)
    else:
        _take(sheet, resolve(ReadingsHeard((), (item,)), sheet))


def _ask_lonely(sheet: Context, item: Unclear) -> None:
    """A number in a sentence ("my house number is 16") is read back with the only place that it can be of, or asked."""
    lonely = ReadingHeard(None, None, item.suggestion, raw=item.raw)
    resolved = resolve(ReadingsHeard((lonely,)), sheet)
    for new in resolved.readings:
        place = PlaceNamed(new.reading.place, new.reading.place)
        queue_unclear(sheet.slots, replace(item, place=place, point=new.reading.point))
    resolved.readings = []
    _take(sheet, resolved)


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
    _take_for(sheet, label, [replace(item, point=point or item.point) for item in items], corrects=corrects)


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
        _take(sheet, resolve(ReadingsHeard(tuple(items)), sheet))


def take_number(sheet: Context) -> None:
    """The number that was meant, in place of the one that was read back."""
    rows = drop_unclear(sheet.slots)
    _again(sheet, [{**row, "suggestion": sheet.event.value, "raw": sheet.event.raw} for row in rows[:1]])


def take_for_point(sheet: Context) -> None:
    _again(sheet, drop_unclear(sheet.slots), Point(str(sheet.event.value)))


def add_unknown_place(sheet: Context) -> None:
    group = drop_unknown(sheet.slots)
    if group is None:
        return
    kind = kind_of(group)
    bays = None if kind == PlaceKind.BAY else 0
    found = Unplaced((), str(group["words"]))
    letter = (found.label or "").rstrip("0123456789")
    if not letter:
        letter = start_wall(sheet, found.words, kind, bays)
    elif sheet.wall(letter) is None:
        letter = start_wall(sheet, letter, kind, bays)
    number = number_of(found.label or "") or highest_number(sheet, letter) + 1
    _take_group(sheet, add_place(sheet, letter, number, kind), group)


def take_unknown_as(sheet: Context) -> None:
    group = drop_unknown(sheet.slots)
    if group is not None:
        _take_group(sheet, str(sheet.event.value), group)


def _take_group(sheet: Context, label: str, group: Mapping[str, Any]) -> None:
    _take_for(sheet, label, [heard_again(row, label) for row in group["items"]])


# --- corrections --------------------------------------------------------------------------------------------------


def hear_correction(sheet: Context) -> None:
    """New rows in place of the numbers that were slips; those stay as they were, and no longer count."""
    heard = sheet.event.value
    if isinstance(heard, ReadingsHeard):
        _correct(sheet, heard)


def _correct(sheet: Context, heard: ReadingsHeard) -> None:
    placed, waiting = put_right(sheet, heard)
    for unclear in waiting:
        queue_unclear(sheet.slots, unclear, corrects=True)
    resolved = resolve(replace(heard, items=tuple(item for item, _old in placed)), sheet)
    olds = {(old.place, old.point): old for _item, old in placed if old is not None}
    resolved.readings = [_in_place_of(new, olds, heard.taken_on) for new in resolved.readings]
    _take(sheet, resolved, heard.temp_c, corrects=True)


def _in_place_of(new: NewReading, olds: Mapping[tuple[str, Point], Reading], named: dt.date | None) -> NewReading:
    """At the day of what it puts right, unless the text names another."""
    old = olds.get((new.reading.place, new.reading.point))
    if old is None:
        return new
    on = named or old.taken_on
    of_that_day = replace(new, reading=replace(new.reading, taken_on=on, check=on.isoformat()))
    return of_that_day if old.confirmed and not new.reading.confirmed else replace(of_that_day, replaces=old.id)


def earlier_of_check(sheet: Context, new: NewReading) -> str | None:
    """The stored reading of the same check that a new one of the same point takes the place of.

    Two numbers below the range stand beside each other (the second push proves the first); what nobody has confirmed
    takes the place of nothing that somebody has.
    """
    reading = new.reading
    for old in reversed(sheet.facts.readings):
        same = (old.place, old.point, old.taken_on) == (reading.place, reading.point, reading.taken_on)
        if not same or old.id in sheet.withdrawn or old.material != reading.material:
            continue
        both_below = old.qualifier == reading.qualifier == Qualifier.BELOW
        return None if both_below or (old.confirmed and not reading.confirmed) else old.id
    return None


def undo(sheet: Context) -> None:
    ids = tuple(reading.id for reading in sheet.facts.last_readings)
    sheet.withdrawn.update(ids)
    sheet.forget_assessment()
    sheet.add(WithdrawReadings(ids))
    store_assessment(sheet, ())


# --- the second push --------------------------------------------------------------------------------------------


def ask_push(sheet: Context) -> None:
    below = sheet.below_once()
    if below is not None:
        sheet.slots["push"] = [below[0], str(below[1])]


def pushed_again(sheet: Context) -> None:
    push = sheet.slots.pop("push", None)
    if isinstance(push, list):
        pushed = sheet.slots.setdefault("pushed", [])
        assert isinstance(pushed, list)
        pushed.append(f"{push[0]}:{push[1]}")


def hear_push(sheet: Context) -> None:
    """The second push: a number takes the place of the below-range one, below once more stands beside it and agrees."""
    push = sheet.slots.get("push")
    heard = sheet.event.value
    pushed_again(sheet)
    if not isinstance(heard, ReadingsHeard):
        return
    resolved = resolve(heard, sheet)
    if isinstance(push, list):
        resolved.readings = [_of_push(sheet, new, (str(push[0]), str(push[1]))) for new in resolved.readings]
    _take(sheet, resolved, heard.temp_c)


def _of_push(sheet: Context, new: NewReading, push: tuple[str, str]) -> NewReading:
    if (new.reading.place, str(new.reading.point)) != push or new.reading.qualifier == Qualifier.BELOW:
        return new
    return replace(new, replaces=earlier_of_check(sheet, new))


DEEDS: dict[str, Callable[[Context], None]] = {
    "hear_readings": hear_readings,
    "hear_correction": hear_correction,
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
    "undo": undo,
    "ask_push": ask_push,
    "hear_push": hear_push,
    "pushed_again": pushed_again,
}
