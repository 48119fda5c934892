"""What is told before it is asked: kept, so that nobody has to say it twice.

Where the house is waits in the conversation until its question would come: nothing of it stands in the household's file
before who writes is known. That somebody is at risk is kept as that and no more: never who, never what of.
"""

from __future__ import annotations

from collections.abc import Callable

from guide_service.dialogue.context import Context
from guide_service.dialogue.deeds_mould import risk_told
from guide_service.dialogue.deeds_order import remember
from guide_service.dialogue.effects import SetHousehold, SetRole
from guide_service.dialogue.stages import told

_FACTS = {"water": "water", "below": "foundation", "walls": "walls_open", "house": "house_kind"}
_WHERE = ("area", "address")


def _keep_told(sheet: Context) -> None:
    """Where nothing is known yet. Of a contractor's houses nobody knows which was meant."""
    kind, _, value = str(sheet.event.value).partition(".")
    role = sheet.slots.get("role", sheet.facts.role)
    if kind == "risk":
        risk_told(sheet)
    if kind == "role" and role == "unknown":
        sheet.slots["role"], sheet.slots["role_told"] = value, True
        sheet.add(SetRole(value))
    if kind in _WHERE and role != "contractor" and getattr(sheet.facts, kind) is None:
        sheet.slots[f"{kind}_told"] = value
    fact = _FACTS.get(kind)
    if fact is not None and role != "contractor" and told(sheet, fact) is None:
        remember(sheet, **{fact: True if value == "open" else value})


def _area_taken(sheet: Context) -> None:
    sheet.add(SetHousehold(area=str(sheet.slots.pop("area_told"))))
    _answered_unasked(sheet, "welcome.area")


def _address_taken(sheet: Context) -> None:
    sheet.slots["address_heard"] = str(sheet.slots.pop("address_told"))
    sheet.add(SetHousehold(address=str(sheet.slots["address_heard"])))
    _answered_unasked(sheet, "welcome.address")


def _answered_unasked(sheet: Context, state: str) -> None:
    """ "Back" leads to a question, too, that was not put."""
    trail = sheet.slots.setdefault("trail", [])
    if isinstance(trail, list) and state not in trail:
        trail.append(state)


DEEDS: dict[str, Callable[[Context], None]] = {
    "keep_told": _keep_told,
    "role_taken": lambda sheet: sheet.slots.__delitem__("role_told"),
    "area_taken": _area_taken,
    "address_taken": _address_taken,
}
