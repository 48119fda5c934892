"""Deeds of readings: taken, put right, taken back. What is unclear waits, and a place that nobody knows is asked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from guide_service.dialogue.check import Resolved, Unplaced, resolve
from guide_service.dialogue.context import Context
from guide_service.dialogue.corrections import put_right
from guide_service.dialogue.deeds_round import begin_round
from guide_service.dialogue.effects import NewReading, RecordReadings, SetCheck, WithdrawReadings
from guide_service.dialogue.events import PlaceNamed, ReadingHeard, ReadingsHeard, Unclear, WhyUnclear
from guide_service.dialogue.facts import CheckFacts
from guide_service.dialogue.outcome import store_assessment
from guide_service.dialogue.pending import queue_unclear, queue_unknown
from guide_service.dialogue.places_brought import brought_along
from guide_service.drying.terms import Point, Qualifier, Reading


def hear_readings(sheet: Context) -> None:
    heard = sheet.event.value
    if isinstance(heard, ReadingsHeard):
        take(sheet, resolve(heard, sheet), heard.temp_c)


def take(sheet: Context, resolved: Resolved, temp_c: float | None = None, *, corrects: bool = False) -> None:
    """A point that was read in this check already keeps its newest number; the earlier one stays in the history."""
    resolved.readings = [
        replace(new, replaces=new.replaces or _earlier_of_check(sheet, new)) for new in resolved.readings
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
    if not found.words and not sheet.followed():
        queue_unclear(sheet.slots, Unclear(WhyUnclear.NOT_A_READING, found.items[0].raw))
    elif len(found.labels) > 1 or not found.words:
        queue_unknown(sheet.slots, found.items, found.words, found.labels)
    elif (label := brought_along(sheet, found)) is not None:
        take_for(sheet, label, found.items)
    else:
        queue_unknown(sheet.slots, found.items, found.words)


def take_for(sheet: Context, label: str, items: Sequence[ReadingHeard], *, corrects: bool = False) -> None:
    """Numbers whose place is certain now, if it is still there."""
    placed = tuple(replace(item, place=PlaceNamed(label, label)) for item in items)
    if sheet.place(label) is None:
        return
    if corrects:
        _correct(sheet, ReadingsHeard(placed))
    else:
        take(sheet, resolve(ReadingsHeard(placed), sheet))


def _earlier_of_check(sheet: Context, new: NewReading) -> str | None:
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
    take(sheet, resolved, heard.temp_c, corrects=True)


def _in_place_of(new: NewReading, olds: Mapping[tuple[str, Point], Reading], named: dt.date | None) -> NewReading:
    """At the day of what it puts right, unless the text names another."""
    old = olds.get((new.reading.place, new.reading.point))
    if old is None:
        return new
    on = named or old.taken_on
    of_that_day = replace(new, reading=replace(new.reading, taken_on=on, check=on.isoformat()))
    return of_that_day if old.confirmed and not new.reading.confirmed else replace(of_that_day, replaces=old.id)


def undo(sheet: Context) -> None:
    ids = tuple(reading.id for reading in sheet.facts.last_readings)
    sheet.withdrawn.update(ids)
    sheet.forget_assessment()
    sheet.add(WithdrawReadings(ids))
    store_assessment(sheet, ())


DEEDS: dict[str, Callable[[Context], None]] = {
    "hear_readings": hear_readings,
    "hear_correction": hear_correction,
    "undo": undo,
}
