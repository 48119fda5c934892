"""Guards: yes-or-no questions to the sheet of the turn, by the names that flow files use."""

from __future__ import annotations

from collections.abc import Callable

from guide_service.dialogue.answers.questions import MOST_BAYS, OK
from guide_service.dialogue.answers.settling import LEAST_PLAUSIBLE, SURE_UP_TO
from guide_service.dialogue.answers.spelling import is_telling
from guide_service.dialogue.check_block import GUARDS as BLOCK_GUARDS
from guide_service.dialogue.context import CAME_BACK, Context, strings
from guide_service.dialogue.deeds_places import bare_walls, waiting_rooms, wall_named
from guide_service.dialogue.deeds_reaching import GUARDS as REACHING_GUARDS
from guide_service.dialogue.deeds_water import GUARDS as WATER_GUARDS
from guide_service.dialogue.events import AT_RISK, SETTING, EventName, RoomsHeard, Unclear, WhyUnclear
from guide_service.dialogue.guards_house import GUARDS as HOUSE_GUARDS
from guide_service.dialogue.guards_order import GUARDS as ORDER_GUARDS
from guide_service.dialogue.offers import MORE_LANGUAGES
from guide_service.dialogue.pending import first_unclear, first_unknown, numbers_wait
from guide_service.dialogue.stages import role_of, told
from guide_service.drying.terms import Band, Mode, PlaceKind, SelfCheck

MOST_SPOTS = 12
MISSES_PASSED_ON = 3
"""Texts in a row that were not understood after which a person has been asked. Our choice."""
_AT_REST = frozenset({"home.rest", "home.menu", "check.due"})
_STEPS = ("order.", "renter.")
"""Beginnings of the ids of states that ask for a step of the recovery order, or for what it depends on."""
STEP = ("did", "more", "go_on")
"""The answers to a step of the recovery order, as ``order.step_how`` numbers them."""
SETTLED_FIRST = ("welcome.", "joining.", "file.", "reaching.")


def _meter(sheet: Context, key: str) -> object:
    household = {**sheet.facts.household, **_pending_household(sheet)}
    meter = household.get("meter")
    return meter.get(key) if isinstance(meter, dict) else None


def _pending_household(sheet: Context) -> dict[str, object]:
    told = sheet.slots.get("told_now")
    return dict(told) if isinstance(told, dict) else {}


def _count(sheet: Context, most: int) -> bool:
    return isinstance(sheet.event.value, int) and 1 <= sheet.event.value <= most


def _new_places_now(sheet: Context) -> bool:
    """Whether the rooms that were just told brought in places."""
    wall = sheet.slots.get("wall")
    return isinstance(wall, dict) and bool(wall.get("labels"))


def _bays_exist(sheet: Context) -> bool:
    wall = sheet.slots.get("wall")
    bays = wall.get("bays") if isinstance(wall, dict) else None
    most = bays if isinstance(bays, int) else MOST_BAYS
    numbers = sheet.event.value
    return isinstance(numbers, tuple) and bool(numbers) and all(1 <= n <= most for n in numbers) and len(numbers) <= 12


def _one_bay(sheet: Context) -> bool:
    wall = sheet.slots.get("wall")
    return isinstance(wall, dict) and wall.get("bays") == 1


def _setting_known(sheet: Context) -> bool:
    if sheet.slots.get(CAME_BACK) == "check.setting":
        return False
    return sheet.slots.get("setting_asked") == sheet.facts.today.isoformat() or (
        sheet.visit(sheet.facts.today).mode != Mode.NOT_ASKED
    )


def _block_known(sheet: Context) -> bool:
    """Known, or not worth asking: a self-check decides nothing while everything read today is wet or caution."""
    today = sheet.facts.today
    if sheet.slots.get(CAME_BACK) == "check.block":
        return False
    if sheet.slots.get("block_asked") == today.isoformat() or sheet.visit(today).self_check != SelfCheck.NOT_DONE:
        return True
    read = {reading.place for reading in sheet.readings() if reading.taken_on == today}
    return bool(read) and not any(v.place in read and v.band == Band.DRY for v in sheet.assessment().verdicts)


def _points_missing(sheet: Context) -> bool:
    return sheet.slots.get("round") is not None and bool(sheet.missing())


def _bare_wall(sheet: Context) -> bool:
    return sheet.event.kind in {None, PlaceKind.BAY}


def _unclear_is(sheet: Context, *whys: WhyUnclear) -> bool:
    first = first_unclear(sheet.slots)
    return first is not None and first.get("why") in {str(why) for why in whys}


def _unclear_value(sheet: Context) -> bool:
    first = first_unclear(sheet.slots)
    ask = {WhyUnclear.NO_DECIMAL, WhyUnclear.JUMP, WhyUnclear.LETTERS_IN_NUMBER, WhyUnclear.TOO_FAR_UP}
    if first is None or not (first.get("place") or first.get("words")):
        return False
    if first.get("why") == WhyUnclear.NOT_A_READING:
        ask = {WhyUnclear.NOT_A_READING}
    return first.get("why") in {str(w) for w in ask} and first.get("suggestion") is not None


def _number_settles(sheet: Context) -> bool:
    """A number that needs no second look itself, or the very one that was read back."""
    first, value = first_unclear(sheet.slots) or {}, sheet.event.value
    if not isinstance(value, int | float) or not first.get("place"):
        return False
    return value == first.get("suggestion") or LEAST_PLAUSIBLE <= value <= SURE_UP_TO


def _unclear_point(sheet: Context) -> bool:
    first = first_unclear(sheet.slots) or {}
    known = bool(first.get("place")) and first.get("suggestion") is not None
    return known and _unclear_is(sheet, WhyUnclear.WHICH_POINT)


def _which_place(sheet: Context) -> bool:
    """Numbers of one of several known places, or of none that was named."""
    group = first_unknown(sheet.slots)
    return group is not None and bool(sheet.followed()) and (len(group["labels"]) > 1 or not group["words"])


def _small_number(sheet: Context) -> bool:
    """A bare "2": an answer to a question that is over, not a reading. "Tewnty one" is no 1."""
    item = sheet.event.value
    if not isinstance(item, Unclear) or item.place is not None or is_telling(item.raw):
        return False
    return item.suggestion in set(range(1, 10))


def _unclear_chat(sheet: Context) -> bool:
    """A number in a sentence, of a household that measures nothing yet and names no place."""
    item = sheet.event.value
    if sheet.places or not isinstance(item, Unclear):
        return False
    return item.why == WhyUnclear.NOT_A_READING or item.place is None


def _misses(sheet: Context) -> int:
    misses = sheet.slots.get("misses")
    return misses if isinstance(misses, int) else 0


def _before_the_menu(sheet: Context) -> bool:
    """Who somebody is and whether we may write is settled first."""
    return str(sheet.slots.get("state")).startswith(SETTLED_FIRST)


GUARDS: dict[str, Callable[[Context], bool]] = {
    "opted_out": lambda sheet: sheet.facts.opted_out,
    "stopped_midway": lambda sheet: (
        sheet.facts.opted_out and sheet.slots.get("state") == "stopped" and bool(sheet.slots.get("trail"))
    ),
    "role_told": lambda sheet: sheet.slots.get("role_told") is True,
    "helper_told": lambda sheet: sheet.slots.get("role_told") is True and sheet.slots.get("role") == "contractor",
    "area_told": lambda sheet: "area_told" in sheet.slots and sheet.facts.area is None,
    "address_told": lambda sheet: "address_told" in sheet.slots and sheet.facts.address is None,
    "told_risk": lambda sheet: sheet.event.name == EventName.TOLD and sheet.event.value == AT_RISK,
    "at_risk": lambda sheet: told(sheet, "at_risk") == "yes",
    "lost": lambda sheet: sheet.event.name == EventName.HELP and sheet.event.value == "lost",
    "lost_at_rest": lambda sheet: sheet.event.value == "lost" and sheet.slots.get("state") in _AT_REST,
    "passed_on": lambda sheet: _misses(sheet) >= MISSES_PASSED_ON and "not_understood" in sheet.facts.escalations,
    "renting": lambda sheet: role_of(sheet) == "renter",
    "at_rest": lambda sheet: sheet.slots.get("state") in _AT_REST,
    "rests": lambda sheet: sheet.slots.get("state") in {"home.rest", "home.menu", "silence.stands"},
    "in_a_check": lambda sheet: str(sheet.slots.get("state")).startswith("check."),
    "asking": lambda sheet: sheet.slots.get("state") not in {"home.rest", "welcome.new", "stopped"},
    "check_waits": lambda sheet: sheet.facts.next_check_on is not None,
    "mould_open": lambda sheet: sheet.facts.circumstances.mould_open,
    "step_open": lambda sheet: (
        not sheet.facts.readings and str(sheet.slots.get("state")).startswith(_STEPS) and bool(sheet.asked.offers)
    ),
    "nothing_measured": lambda sheet: not sheet.facts.readings,
    "has_no_places": lambda sheet: not sheet.places,
    "has_reference": lambda sheet: (
        told(sheet, "reference") == "none" or any(place.kind == PlaceKind.REFERENCE for place in sheet.places)
    ),
    "danger_told": lambda sheet: sheet.slots.get("danger_now") is True,
    "on_the_way": lambda sheet: "after_welcome" in sheet.slots,
    "intro_read": lambda sheet: "welcome.intro" in strings(sheet.slots.get("led")),
    "missed_in_welcome": lambda sheet: _before_the_menu(sheet) and _misses(sheet) < 2,
    "wants_menu": lambda sheet: bool(sheet.event.raw) and not _before_the_menu(sheet),
    "one_language": lambda sheet: len(sheet.facts.county.languages) < 2,
    "more_languages": lambda sheet: sheet.event.value == MORE_LANGUAGES,
    "language_known": lambda sheet: sheet.slots.get("language_known") is True,
    "speaks_it_already": lambda sheet: sheet.event.value == sheet.facts.language,
    "speaks_it": lambda sheet: sheet.event.value in sheet.facts.county.languages,
    "wants_language_list": lambda sheet: sheet.event.value is None and len(sheet.facts.county.languages) > 1,
    "house_kind_known": lambda sheet: "house_kind" in sheet.facts.household,
    "names_a_street": lambda sheet: sheet.event.street,
    "has_letters": lambda sheet: any(ch.isalpha() for ch in str(sheet.event.value or "")),
    "named_bare_wall": _bare_wall,
    "several_rooms": lambda sheet: bool(sheet.event.rooms),
    "rooms_wait": lambda sheet: bool(waiting_rooms(sheet)),
    "many_rooms_next": lambda sheet: any("left" in row for row in waiting_rooms(sheet)[:1]),
    "bare_wall_next": lambda sheet: any(row.get("kind") == PlaceKind.BAY for row in waiting_rooms(sheet)[:1]),
    "count_of_bays": lambda sheet: _count(sheet, MOST_BAYS),
    "count_of_spots": lambda sheet: _count(sheet, MOST_SPOTS),
    "bays_exist": _bays_exist,
    "one_bay": _one_bay,
    "meter_unknown": lambda sheet: _meter(sheet, "have") is None,
    "meter_pinless_only": lambda sheet: _meter(sheet, "kind") == "pinless",
    "tells_setting": lambda sheet: sheet.event.value == SETTING and bool(sheet.followed()),
    "only_ok": lambda sheet: sheet.event.value == OK,
    "ok_to_a_step": lambda sheet: sheet.event.value == OK and tuple(o.key for o in sheet.asked.offers) == STEP,
    "ok_to_a_question": lambda sheet: sheet.event.value == OK and bool(sheet.asked.offers),
    "before_the_menu": _before_the_menu,
    "wants_to_borrow": lambda sheet: sheet.event.value == "borrow",
    "has_a_meter": lambda sheet: sheet.event.value == "have",
    "wants_rename": lambda sheet: sheet.event.value == "rename",
    "tells_rooms": lambda sheet: isinstance(sheet.event.value, RoomsHeard),
    "new_places_now": _new_places_now,
    "names_unread_wall": lambda sheet: sheet.event.value == "remove" and wall_named(sheet) is not None,
    "nothing_to_remove": lambda sheet: not sheet.places and not bare_walls(sheet),
    "wants_remove": lambda sheet: sheet.event.value == "remove",
    "washed_unknown": lambda sheet: "washed_on" not in sheet.facts.household and not sheet.facts.readings,
    "setting_known": _setting_known,
    "block_known": _block_known,
    "points_missing": _points_missing,
    "below_needs_push": lambda sheet: sheet.below_once() is not None,
    "heard_readings": lambda sheet: bool(sheet.touched),
    "unclear": lambda sheet: first_unclear(sheet.slots) is not None,
    "numbers_wait": lambda sheet: numbers_wait(sheet.slots),
    "which_place": _which_place,
    "number_settles": _number_settles,
    "unclear_point": _unclear_point,
    "unclear_value": _unclear_value,
    "unknown_place": lambda sheet: bool((first_unknown(sheet.slots) or {}).get("words")),
    "far_from_last": lambda sheet: (
        _unclear_is(sheet, WhyUnclear.JUMP) and bool((first_unclear(sheet.slots) or {}).get("place"))
    ),
    "small_number": _small_number,
    "unclear_chat": _unclear_chat,
    "unclear_of_place": lambda sheet: isinstance(sheet.event.value, Unclear) and sheet.event.value.place is not None,
    "first_miss": lambda sheet: _misses(sheet) == 0,
    "second_miss": lambda sheet: _misses(sheet) == 1,
    "second_miss_early": lambda sheet: _misses(sheet) == 1 and not sheet.places,
    "can_undo": lambda sheet: bool(sheet.facts.last_readings),
    **ORDER_GUARDS,
    **HOUSE_GUARDS,
    **BLOCK_GUARDS,
    **REACHING_GUARDS,
    **WATER_GUARDS,
}
