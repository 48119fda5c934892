"""The number that a meter showed on its check block, judged against the block's own.

The block's own number is the county's for a meter that it lends, else the one printed on the block as the person reads
it out; without either the number is kept and says nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from guide_service.dialogue.context import Context
from guide_service.dialogue.deeds_round import mark_asked, note_visit
from guide_service.dialogue.effects import SetHousehold
from guide_service.dialogue.events import EventName
from guide_service.dialogue.meter_names import names_meter
from guide_service.dialogue.saying import Argument
from guide_service.drying.terms import SelfCheck

LEAST, MOST = 5.0, 40.0
"""[% MC] Numbers that check blocks are made for; any other is a slip or answers something else (common practice)."""
SHOWN, SHOWN_ON, ASKED_PRINTED = "block_shown", "block_shown_on", "check.block_printed"


def meter_facts(sheet: Context) -> Mapping[str, object]:
    """What is known of the meter, with what this turn added."""
    told = sheet.slots.get("told_now")
    now = told.get("meter") if isinstance(told, dict) else None
    known = sheet.facts.household.get("meter")
    return {**(known if isinstance(known, dict) else {}), **(now if isinstance(now, dict) else {})}


def _lent_value(sheet: Context) -> float | None:
    """What it must show where it is a meter that the county lends."""
    whose = str(meter_facts(sheet).get("whose") or "")
    lent = sheet.facts.county.lent_meters.items()
    return next((value for number, value in lent if names_meter(whose, number)), None)


def own_value(sheet: Context) -> float | None:
    """What this meter must show on its block."""
    lent = _lent_value(sheet)
    if lent is not None:
        return lent
    told = meter_facts(sheet).get("block")
    return float(told) if isinstance(told, int | float) else None


def _told_printed(sheet: Context) -> bool:
    """Whether the number of this text answers what is printed on the block, for the first time or put right."""
    return sheet.slots.get("state") == ASKED_PRINTED and sheet.event.name == EventName.NUMBER


def shown_value(sheet: Context) -> float | None:
    """The number in this text or, where the block's own was asked meanwhile, the one that waits."""
    value = _held(sheet) if _told_printed(sheet) else sheet.event.value
    return float(value) if isinstance(value, int | float) else None


def _held(sheet: Context) -> object:
    """The number that the meter showed today; what is printed may be asked, and put right, after it."""
    today = sheet.facts.today.isoformat()
    return sheet.slots.get(SHOWN) if sheet.slots.get(SHOWN_ON, today) == today else None


def _printed(sheet: Context) -> float | None:
    """The block's own number; in answer to the question for it, the one of this text."""
    lent = _lent_value(sheet)
    told = sheet.event.value if lent is None and _told_printed(sheet) else own_value(sheet)
    return float(told) if isinstance(told, int | float) else None


def _agrees(sheet: Context) -> bool:
    shown, printed = shown_value(sheet), _printed(sheet)
    return shown is not None and printed is not None and abs(shown - printed) <= sheet.facts.county.block_tolerance_mc


def _fits(sheet: Context) -> bool:
    value = sheet.event.value
    return isinstance(value, int | float) and LEAST <= value <= MOST


def _judged(agrees: bool) -> Callable[[Context], None]:
    """The answer that the number gives to "does it read right", and the number itself, stand with the check."""

    def judge(sheet: Context) -> None:
        shown, printed = shown_value(sheet), _printed(sheet)
        if printed is not None and printed != own_value(sheet):
            _remember(sheet, printed)
        sheet.slots["block_now"] = [shown, printed]
        verdict = SelfCheck.PASSED if agrees else SelfCheck.FAILED
        note_visit(sheet, self_check=verdict, block_value=shown)

    return judge


def _remember(sheet: Context, printed: float) -> None:
    meter = {**meter_facts(sheet), "block": printed}
    now = sheet.slots.setdefault("told_now", {})
    assert isinstance(now, dict)
    now["meter"] = meter
    sheet.add(SetHousehold(facts={"meter": meter}))


def _hold(sheet: Context) -> None:
    sheet.slots[SHOWN] = shown_value(sheet)
    sheet.slots[SHOWN_ON] = sheet.facts.today.isoformat()


def _unjudged(sheet: Context) -> None:
    """Nobody knows what the block should show: the number is kept with the check and proves nothing."""
    shown = _held(sheet)
    if isinstance(shown, int | float):
        note_visit(sheet, block_value=float(shown))
    mark_asked(sheet, "block_asked")


def _of_now(index: int) -> Callable[[Context], Argument]:
    def value(sheet: Context) -> Argument:
        both = sheet.slots.get("block_now")
        found = both[index] if isinstance(both, list) else None
        if found is None:
            found = shown_value(sheet) if index == 0 else _printed(sheet)
        return float(found) if isinstance(found, int | float) else "-"

    return value


GUARDS: dict[str, Callable[[Context], bool]] = {
    "block_fits": _fits,
    "block_agrees": _agrees,
    "block_held": lambda sheet: _held(sheet) is not None,
    "block_own_known": lambda sheet: own_value(sheet) is not None,
}
DEEDS: dict[str, Callable[[Context], None]] = {
    "block_agrees": _judged(True),
    "block_differs": _judged(False),
    "block_hold": _hold,
    "block_unjudged": _unjudged,
}
VALUES: dict[str, Callable[[Context], Argument]] = {"block_shown": _of_now(0), "block_printed": _of_now(1)}
