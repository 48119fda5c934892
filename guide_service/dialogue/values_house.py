"""Values that texts on whose house it is may name."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from guide_service.dialogue import codes
from guide_service.dialogue.context import Context
from guide_service.dialogue.saying import Argument, Say

NONE = Say("file.none")
_ROLES = frozenset({"owner", "renter", "landlord", "contractor", "volunteer"})


def _code(sheet: Context) -> Argument:
    return codes.grouped(str(sheet.slots.get("code_now") or sheet.facts.house.code or ""))


def _house(sheet: Context) -> Argument:
    return str(sheet.slots.get("house_now") or sheet.facts.house.name)


def _role(sheet: Context) -> Argument:
    role = str(sheet.slots.get("role") or sheet.facts.role)
    return Say(f"label.{role}") if role in _ROLES else NONE


def _area(sheet: Context) -> Argument:
    return dict(sheet.facts.county.areas).get(sheet.facts.area or "", NONE)


def _places(sheet: Context) -> Argument:
    return ", ".join(place.label for place in sheet.followed()) or NONE


def _last_day(sheet: Context) -> Argument:
    days = [reading.taken_on for reading in sheet.facts.readings]
    return max(days) if days else NONE


def _remind_time(sheet: Context) -> Argument:
    told = sheet.slots.get("remind_now")
    return dt.time.fromisoformat(str(told)) if told else sheet.facts.house.speak_from


VALUES: dict[str, Callable[[Context], Argument]] = {
    "code": _code,
    "code_days": lambda sheet: sheet.facts.house.code_open_days,
    "house": _house,
    "file_role": _role,
    "file_area": _area,
    "file_places": _places,
    "file_next": lambda sheet: sheet.facts.next_check_on or NONE,
    "last_day": _last_day,
    "keep_days": lambda sheet: sheet.facts.house.keep_days,
    "remind_time": _remind_time,
    "from_time": lambda sheet: sheet.facts.house.speak_from,
    "until_time": lambda sheet: sheet.facts.house.speak_until,
}
