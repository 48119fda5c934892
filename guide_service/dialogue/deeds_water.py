"""New water: safe at once, asked about in the same answer, and taken back where it was none.

What is reported blocks "ready" with the report itself. Only a member of the household, on the same day and before any
new number, can take it back in so many words; later a person looks at it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

from guide_service.dialogue.context import Context
from guide_service.dialogue.effects import (
    Escalate,
    EscalationReason,
    FloodedAgain,
    NewWaterTakenBack,
    ScheduleCheck,
    Urgency,
)
from guide_service.dialogue.outcome import store_assessment
from guide_service.dialogue.pending import first_unclear

REPORTED = "new_water"
"""Slot: the day reported, the day that stood before it, and the newest reading then."""


def _newest(sheet: Context) -> str:
    return sheet.facts.readings[-1].id if sheet.facts.readings else ""


def _flooded_on(sheet: Context, on: dt.date | None) -> None:
    circumstances = replace(sheet.facts.circumstances, flooded_again_on=on)
    sheet.facts = replace(sheet.facts, circumstances=circumstances)
    sheet.forget_assessment()


def _report(sheet: Context) -> None:
    today, before = sheet.facts.today, sheet.facts.circumstances.flooded_again_on
    if before != today or REPORTED not in sheet.slots:
        told = before.isoformat() if before else None
        sheet.slots[REPORTED] = {"on": today.isoformat(), "before": told, "newest": _newest(sheet)}
    sheet.add(FloodedAgain(today), Escalate(EscalationReason.NEW_WATER, Urgency.SOON))
    _flooded_on(sheet, today)
    if sheet.places:
        store_assessment(sheet, ())
        _plan_check(sheet)


def _plan_check(sheet: Context) -> None:
    """No number stands that a date could follow from: the house is looked at like a wet one."""
    on = sheet.facts.today + dt.timedelta(days=sheet.facts.policy.next_check_days["wet"].earliest)
    sheet.facts = replace(sheet.facts, next_check_on=on)
    sheet.add(ScheduleCheck(on))


def _reported(sheet: Context) -> dict[str, object] | None:
    """The report of this conversation, while it is the one that holds."""
    told = sheet.slots.get(REPORTED)
    on = sheet.facts.circumstances.flooded_again_on
    return told if isinstance(told, dict) and on is not None and told.get("on") == on.isoformat() else None


def _nothing_since(sheet: Context) -> bool:
    told = _reported(sheet)
    return told is not None and told.get("newest") == _newest(sheet)


def _just_now(sheet: Context) -> bool:
    told = _reported(sheet)
    today = told is not None and told.get("on") == sheet.facts.today.isoformat()
    asked_of_a_number = first_unclear(sheet.slots) is not None
    return today and _nothing_since(sheet) and not asked_of_a_number and not sheet.facts.third_party


def _take_back(sheet: Context) -> None:
    told = _reported(sheet)
    assert told is not None
    before = told.get("before")
    day = dt.date.fromisoformat(before) if isinstance(before, str) else None
    on = dt.date.fromisoformat(str(told["on"]))
    sheet.slots.pop(REPORTED)
    detail = {"taken_back": sheet.facts.today.isoformat()}
    sheet.add(NewWaterTakenBack(on, day), Escalate(EscalationReason.NEW_WATER, Urgency.SOON, detail))
    _flooded_on(sheet, day)
    if sheet.places:
        store_assessment(sheet, ())


def _doubt(sheet: Context) -> None:
    sheet.add(Escalate(EscalationReason.NEW_WATER, Urgency.SOON, {"doubted": sheet.facts.today.isoformat()}))


def _answered(where: str) -> Callable[[Context], None]:
    return lambda sheet: sheet.add(Escalate(EscalationReason.NEW_WATER, Urgency.SOON, {"where": where}))


GUARDS: dict[str, Callable[[Context], bool]] = {
    "new_water_just_now": _just_now,
    "new_water_before": lambda sheet: _reported(sheet) is not None and _nothing_since(sheet),
    "speaks_of_water": lambda sheet: sheet.event.value == "water",
    "flooded_again": lambda sheet: sheet.facts.circumstances.flooded_again_on is not None,
}
DEEDS: dict[str, Callable[[Context], None]] = {
    "new_water": _report,
    "take_back_new_water": _take_back,
    "doubt_new_water": _doubt,
    "new_water_in_walls": _answered("walls"),
    "new_water_unsure": _answered("unsure"),
}
