"""The values that a text of the flow files may name: ``%(office)s`` and so on, each a function of the turn's sheet."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from functools import lru_cache
from typing import Any

from guide_service.dialogue.check_block import VALUES as BLOCK_VALUES
from guide_service.dialogue.confirming import VALUES as CONFIRMING_VALUES
from guide_service.dialogue.context import Context
from guide_service.dialogue.deeds_places import waiting_rooms
from guide_service.dialogue.events import WhyUnclear
from guide_service.dialogue.facts import CountyFacts
from guide_service.dialogue.guards_order import day_of
from guide_service.dialogue.pending import alike_unclear, first_unclear, first_unknown
from guide_service.dialogue.saying import Argument, Say
from guide_service.dialogue.stages import stage_of, told
from guide_service.dialogue.values_house import VALUES as HOUSE_VALUES
from guide_service.wording.messages import Message

_PLACEHOLDER = re.compile(r"%\((\w+)\)s")


@lru_cache(maxsize=4096)
def placeholders(text: str) -> tuple[str, ...]:
    """Names of the placeholders of a text, each once."""
    return tuple(dict.fromkeys(_PLACEHOLDER.findall(text)))


def values_for(message: Message, sheet: Context) -> dict[str, Argument]:
    return {name: VALUES[name](sheet) for name in placeholders(message.text)}


def values_for_id(id_: str, sheet: Context) -> dict[str, Argument]:
    return values_for(sheet.messages[id_], sheet)


def listed(items: list[str]) -> Argument:
    return ", ".join(items)


def _wall_slot(sheet: Context, key: str) -> str:
    wall = sheet.slots.get("wall")
    return str(wall.get(key, "")) if isinstance(wall, dict) else ""


def _place(sheet: Context) -> Argument:
    if sheet.asked.place:
        return sheet.asked.place
    missing = sheet.missing()
    return missing[0][0] if missing else "K1"


def _point(sheet: Context) -> Argument:
    points = sheet.asked.points
    if not points:
        missing = sheet.missing()
        points = missing[0][1] if missing else ()
    return Say(f"point.{points[0]}") if points else Say("point.wood")


def _points(sheet: Context) -> Argument:
    missing = sheet.missing()
    points = sheet.asked.points or (missing[0][1] if missing else ())
    return tuple(Say(f"point.{point}") for point in points) or Say("point.wood")


def _labels(sheet: Context) -> Argument:
    return listed([place.label for place in sheet.followed()]) or "K1"


def _new_labels(sheet: Context) -> Argument:
    wall = sheet.slots.get("wall")
    labels = wall.get("labels") if isinstance(wall, dict) else None
    if isinstance(labels, list) and labels:
        return listed([str(label) for label in labels])
    letter = _wall_slot(sheet, "letter")
    return listed([p.label for p in sheet.followed() if p.wall == letter]) or "K1"


def _next_check(sheet: Context) -> Argument:
    told = sheet.slots.get("next_check_told")
    if isinstance(told, str):
        return dt.date.fromisoformat(told)
    return sheet.facts.next_check_on or sheet.facts.today


def _waiting(sheet: Context) -> dict[str, Any]:
    """What is asked about now: readings whose place is open, else the first that was unclear."""
    return first_unknown(sheet.slots) or first_unclear(sheet.slots) or {}


def _doubted(sheet: Context) -> tuple[float, ...]:
    """The numbers that are asked about now: all that a yes would take."""
    if first_unknown(sheet.slots):
        return ()
    values = (row.get("suggestion") for row in alike_unclear(sheet.slots))
    return tuple(float(value) for value in values if isinstance(value, int | float))


def _unclear_raw(sheet: Context) -> Argument:
    """What was typed; of numbers that are far from last time only these: "K1 13 45 12" does not say which."""
    waiting = _waiting(sheet)
    if waiting.get("why") == WhyUnclear.JUMP:
        return _doubted(sheet)
    return str(waiting.get("raw") or waiting.get("words") or "")[:30]


def _unclear_place(sheet: Context) -> Argument:
    """Never nothing: a number of no place is not read back, it is asked for again with its place."""
    waiting = _waiting(sheet)
    place = str(waiting.get("place") or waiting.get("words") or "")[:30]
    assert place, f"a question about a place without one: {waiting.get('why')}"
    return place


def _unclear_suggestion(sheet: Context) -> Argument:
    return _doubted(sheet) or str(_waiting(sheet).get("raw", ""))


def _meter_place(sheet: Context) -> Argument:
    return meter_place_of(sheet.facts.county, sheet.facts.area)


def meter_place_of(county: CountyFacts, area: str | None) -> Argument:
    """Where an area's households fetch meters and bring them back; the office where the county names no place."""
    own = [place for place in county.meter_places if place.area == area] or list(county.meter_places)
    return own[0].words if own else county.office_name


def _last(sheet: Context) -> Argument:
    labels = list(dict.fromkeys(reading.place for reading in sheet.facts.last_readings))
    return listed(labels) or "-"


def _removed(sheet: Context) -> Argument:
    """A place by its label, a wall by its name."""
    which = str(sheet.slots.get("which", ""))
    return next((wall.name for wall in sheet.walls if wall.id == which), which)


def _guided(name: str) -> Callable[[Context], Argument]:
    """A figure of the county file. As words: a year is not a count."""
    return lambda sheet: str(getattr(sheet.facts.county.guidance, name))


def _look_weeks(sheet: Context) -> Argument:
    return str(max(1, round(sheet.facts.county.guidance.look_back_days / 7)))


def _first_check(sheet: Context) -> Argument:
    on = day_of(told(sheet, "first_check_on"))
    return on or sheet.facts.next_check_on or sheet.facts.today


VALUES: dict[str, Callable[[Context], Argument]] = {
    "office": lambda sheet: sheet.facts.county.office_name,
    "county": lambda sheet: sheet.facts.county.county,
    "callback": lambda sheet: sheet.facts.county.call_back,
    "emergency": lambda sheet: sheet.facts.county.emergency_number,
    "distress_line": lambda sheet: sheet.facts.county.help_lines.get("distress", sheet.facts.county.call_back),
    "poison_line": lambda sheet: sheet.facts.county.help_lines.get("poison", sheet.facts.county.emergency_number),
    "referral_line": lambda sheet: sheet.facts.county.help_lines.get("referral", sheet.facts.county.call_back),
    "address_heard": lambda sheet: str(sheet.slots.get("address_heard", "")),
    "step": lambda sheet: Say(f"step.{stage_of(sheet) or 'unknown'}"),
    "opens_day": lambda sheet: sheet.facts.office_opens[0],
    "opens_time": lambda sheet: sheet.facts.office_opens[1],
    "room": lambda sheet: _wall_slot(sheet, "name"),
    "rooms_heard": lambda sheet: next((str(row["words"]) for row in waiting_rooms(sheet)), ""),
    "letter": lambda sheet: _wall_slot(sheet, "letter"),
    "bays": lambda sheet: _wall_slot(sheet, "bays"),
    "place": _place,
    "point": _point,
    "points": _points,
    "places": _labels,
    "new_places": _new_labels,
    "next_check": _next_check,
    "flooded": lambda sheet: sheet.facts.circumstances.flooded_again_on or sheet.facts.today,
    "limit": lambda sheet: sheet.facts.policy.dry_below_mc,
    "unclear": _unclear_raw,
    "unclear_place": _unclear_place,
    "suggestion": _unclear_suggestion,
    "meter_place": _meter_place,
    "taken_back": _last,
    "which": _removed,
    "cut_inches": _guided("cut_inches"),
    "board_feet": _guided("board_feet"),
    "pump_share": lambda sheet: f"1/{sheet.facts.county.guidance.pump_parts}",
    "pump_feet": _guided("pump_feet"),
    "bleach_cups": _guided("bleach_cups"),
    "bleach_gallons": _guided("bleach_gallons"),
    "bleach_spoons": _guided("bleach_spoons"),
    "mold_feet": _guided("mould_feet"),
    "old_house": _guided("old_house"),
    "dry_days": _guided("dry_days"),
    "look_weeks": _look_weeks,
    "first_check": _first_check,
    **HOUSE_VALUES,
    **BLOCK_VALUES,
    **CONFIRMING_VALUES,
}
