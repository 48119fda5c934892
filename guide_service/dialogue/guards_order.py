"""Guards of the recovery order: where the household stands, and what is known of the house."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any

from guide_service.dialogue.answers.questions import FIRST_YEAR
from guide_service.dialogue.context import Context
from guide_service.dialogue.events import NO_MOULD, SMELL
from guide_service.dialogue.stages import Stage, stage_of, told
from guide_service.drying.assessment import FindingKind
from guide_service.drying.terms import Band

DIRTY = frozenset({"sewage", "river", "unsure"})
"""Washington State counts river and lake floods as black water; what is not known is taken as dirty."""
SMELL_OPEN = "open"
"""Fact ``smell`` of a household: a smell that may be mould. It blocks *ready* like a report until it is answered."""
PASSED_ON = "mould_passed_on"
"""Slot: a person was asked to look at the mould that was told of."""
SEEN = "mould_seen"
"""Slot: the report that is open is of mould that was seen, whatever was answered since: only an agent lifts it."""
NEEDS_PERSON = frozenset({"masonry", "manufactured"})
"""Kinds of house whose measuring a person plans; until places are set up with them nobody is sent to a meter."""
STALL_CAUSES = frozenset({"air", "rain", "leak", "cover", "salts", "treated", "meter"})
"""What is looked at, one question each (``stall.yaml``)."""
STALL_ASKED_AGAIN_DAYS = 14
"""The questions about a stall come again only after so long. Our choice."""
_AFTER_WATER = frozenset({Stage.MUD_OUT, Stage.THROW_OUT, Stage.OPEN_WALLS, Stage.CLEAN, Stage.DRY})


def _known(name: str) -> Callable[[Context], bool]:
    return lambda sheet: told(sheet, name) is not None


def _after_all(foundation: str) -> Callable[[Context], bool]:
    """Told now of a house of which they were not sure, or told otherwise, and the water is behind them."""

    def holds(sheet: Context) -> bool:
        corrected = sheet.facts.household.get("foundation") not in (None, foundation)
        return corrected and told(sheet, "foundation") == foundation and stage_of(sheet) in _AFTER_WATER

    return holds


def _is(name: str, *values: object) -> Callable[[Context], bool]:
    return lambda sheet: told(sheet, name) in values


def _at(stage: Stage) -> Callable[[Context], bool]:
    return lambda sheet: stage_of(sheet) == stage


def day_of(value: Any) -> dt.date | None:
    return dt.date.fromisoformat(value) if isinstance(value, str) else None


def _dried_a_week(sheet: Context) -> bool:
    since = day_of(told(sheet, "drying_since"))
    return since is not None and (sheet.facts.today - since).days >= sheet.facts.county.guidance.dry_days


def _may_measure(sheet: Context) -> bool:
    """Open, washed and about a week dry: said so at once, or come to step by step."""
    if told(sheet, "open_and_dried") is True:
        return True
    return told(sheet, "walls_open") is True and told(sheet, "washed_on") is not None and _dried_a_week(sheet)


def _any_ready(sheet: Context) -> bool:
    return bool(sheet.places) and any(wall.ready for wall in sheet.assessment().walls)


def _all_ready(sheet: Context) -> bool:
    """Every wall meets the limit: what was closed then was closed on readings."""
    walls = sheet.assessment().walls if sheet.places else ()
    return bool(walls) and all(wall.ready for wall in walls)


def _check_not_due(sheet: Context) -> bool:
    next_on = sheet.facts.next_check_on
    return bool(sheet.facts.readings) and next_on is not None and next_on > sheet.facts.today


def _look_back_waits(sheet: Context) -> bool:
    on = day_of(told(sheet, "look_back_on"))
    return on is not None and on > sheet.facts.today


def stalled_places(sheet: Context) -> tuple[str, ...]:
    """Places of this visit that hardly dry, and that are not dry already."""
    if not sheet.places:
        return ()
    read = {reading.place for reading in sheet.readings() if reading.taken_on == sheet.facts.today}
    dry = {v.place for v in sheet.assessment().verdicts if v.band == Band.DRY}
    kinds = {FindingKind.STALLED, FindingKind.TOO_SLOW}
    found = [place for finding in sheet.assessment().findings if finding.kind in kinds for place in finding.places]
    return tuple(place for place in dict.fromkeys(found) if place in read and place not in dry)


def stall_asked_lately(sheet: Context) -> bool:
    asked = day_of(sheet.slots.get("stall_asked"))
    return asked is not None and (sheet.facts.today - asked).days < STALL_ASKED_AGAIN_DAYS


def stall_answers(sheet: Context) -> dict[str, object]:
    """What the household found where it looked for the cause of a stall: rain=yes and the like."""
    looked = sheet.slots.get("stall")
    return {name: found for name, found in looked.items() if name in STALL_CAUSES} if isinstance(looked, dict) else {}


def cleaning_known(sheet: Context) -> bool:
    """Washed already: said so, or far enough that places are measured."""
    return bool(sheet.facts.readings) or bool(sheet.places) or told(sheet, "washed_on") is not None


def mould_told(sheet: Context) -> Mapping[str, object]:
    told_of_it = sheet.slots.get("mould")
    return told_of_it if isinstance(told_of_it, dict) else {}


def mould_waits(sheet: Context) -> bool:
    """Mould was told of, and what a person needs to know of it was not asked yet."""
    return "mould" in sheet.slots and PASSED_ON not in sheet.slots


def mould_urgent(sheet: Context) -> bool:
    """Sewage, more than about 10 square feet, ducts (EPA), or a person at risk (CDC)."""
    mould = mould_told(sheet)
    house = told(sheet, "water") == "sewage"
    risk = mould.get("risk") is True or told(sheet, "at_risk") == "yes"
    return house or risk or mould.get("size") == "big" or mould.get("ducts") is True


def _mould_first_wash(sheet: Context) -> bool:
    return mould_told(sheet).get("when") == "before_cleaning"


def _year_built(sheet: Context) -> int | None:
    """A year that a house may have been built in: of four digits, and not to come."""
    year = sheet.event.value
    return int(year) if isinstance(year, float) and FIRST_YEAR <= year <= sheet.facts.today.year else None


def _year_is_old(sheet: Context) -> bool:
    year = _year_built(sheet)
    return year is not None and year < sheet.facts.county.guidance.old_house


def _year_is_new(sheet: Context) -> bool:
    year = _year_built(sheet)
    return year is not None and year >= sheet.facts.county.guidance.old_house


def _year_said_late(sheet: Context) -> bool:
    """A year after the question for it: one that makes the house old counts always, one that makes it newer never takes
    back that it is old."""
    return _year_is_old(sheet) or (_year_is_new(sheet) and told(sheet, "old_house") in {"no", "unsure"})


def _not_inside_yet(sheet: Context) -> bool:
    return stage_of(sheet) not in set(Stage) - {Stage.SAFE_ENTRY} and not sheet.facts.places


def closed_walls(sheet: Context) -> frozenset[str]:
    """Letters of the walls that the household said it had closed: nobody reads inside them any more."""
    told_of = [str(told(sheet, name) or "") for name in ("closed_walls", "closed_told")]
    return frozenset(letter for letters in told_of for letter in letters.split(", ") if letter)


GUARDS: dict[str, Callable[[Context], bool]] = {
    **{f"at_{stage}": _at(stage) for stage in Stage},
    "gas_told": lambda sheet: sheet.slots.get("fumes_on") is not None and not sheet.slots.get("gas_cleared"),
    "nowhere_yet": lambda sheet: stage_of(sheet) not in set(Stage) and not sheet.facts.places,
    "water_known": _known("water"),
    "dirty_unsaid": lambda sheet: told(sheet, "water") in DIRTY and told(sheet, "dirty_said") is None,
    "clean_water": _is("water", "rain", "tap"),
    "kind_of_walls_known": lambda sheet: (
        told(sheet, "house_kind") is not None
        and (told(sheet, "house_kind") != "manufactured" or told(sheet, "belly") is not None)
    ),
    "masonry": _is("house_kind", "masonry"),
    "manufactured": _is("house_kind", "manufactured"),
    "person_measures": lambda sheet: told(sheet, "house_kind") in NEEDS_PERSON and not sheet.places,
    "foundation_known": lambda sheet: told(sheet, "foundation") is not None or _is("house_kind", "manufactured")(sheet),
    "basement": _is("foundation", "basement"),
    "crawl_space": _is("foundation", "crawl"),
    "basement_after_all": _after_all("basement"),
    "crawl_space_after_all": _after_all("crawl"),
    "year_is_old": _year_is_old,
    "year_is_new": _year_is_new,
    "year_said_late": _year_said_late,
    "not_inside_yet": _not_inside_yet,
    "age_known": _known("old_house"),
    "old_house": _is("old_house", "yes", "unsure"),
    "power_known": _known("power_off"),
    "tap_known": _known("tap"),
    "septic_known": _known("septic"),
    "power_checked_known": _known("power_on"),
    "has_power": _is("power_on", True),
    "dried_a_week": _dried_a_week,
    "drying_planned": lambda sheet: (day_of(told(sheet, "first_check_on")) or sheet.facts.today) > sheet.facts.today,
    "may_measure": _may_measure,
    "has_readings": lambda sheet: bool(sheet.facts.readings),
    "check_not_due": _check_not_due,
    "any_wall_ready": _any_ready,
    "all_walls_ready": _all_ready,
    "look_back_waits": _look_back_waits,
    "looked_back": _known("looked_back_on"),
    "closed_waits": lambda sheet: "closed_while_wet" in sheet.facts.escalations and "closed" not in sheet.slots,
    "stall_to_ask": lambda sheet: not stall_asked_lately(sheet) and bool(stalled_places(sheet)),
    "stall_answered": lambda sheet: bool(stall_answers(sheet)),
    "cleaning_known": cleaning_known,
    "mould_urgent": mould_urgent,
    "mould_waits": mould_waits,
    "risk_in_mould": lambda sheet: mould_told(sheet).get("risk") is True,
    "smell_open": lambda sheet: told(sheet, "smell") == SMELL_OPEN,
    "mould_doubtful": lambda sheet: sheet.event.value == SMELL,
    "mould_denied": lambda sheet: sheet.event.value == NO_MOULD,
    "mould_taken_back": lambda sheet: sheet.event.value == NO_MOULD and SEEN not in sheet.slots,
    "smell_to_ask": lambda sheet: (
        told(sheet, "smell") == SMELL_OPEN and sheet.slots.get("smell_asked") != sheet.facts.today.isoformat()
    ),
    "mould_first_wash": _mould_first_wash,
}
