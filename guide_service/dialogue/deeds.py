"""What flow files can ``do``: each a function that changes the turn's sheet and adds effects. By topic of the flows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict

from guide_service.dialogue import (
    check_block,
    confirming,
    deeds_house,
    deeds_mould,
    deeds_order,
    deeds_places,
    deeds_reaching,
    deeds_readings,
    deeds_round,
    deeds_told,
    deeds_waiting,
    deeds_water,
)
from guide_service.dialogue.context import Context
from guide_service.dialogue.effects import (
    CancelChecks,
    Escalate,
    EscalationReason,
    OptIn,
    OptOut,
    SetContact,
    SetHousehold,
    SetRole,
    ShowConsent,
    Urgency,
)
from guide_service.dialogue.events import AirHeard, Danger
from guide_service.dialogue.offers import turn_language_page
from guide_service.dialogue.stages import stage_of, told

FUMES = frozenset({Danger.GAS, Danger.CARBON_MONOXIDE})
"""Dangers that go on in the body: a headache after them is one again."""


def _merge_household(sheet: Context, **told: object) -> None:
    """Remember what the household told of itself, for this turn's guards and for the records."""
    now = sheet.slots.setdefault("told_now", {})
    assert isinstance(now, dict)
    now.update(told)
    sheet.add(SetHousehold(facts=told))


def _meter(sheet: Context, **told: object) -> None:
    known = sheet.facts.household.get("meter")
    now = sheet.slots.get("told_now")
    earlier = now.get("meter") if isinstance(now, dict) else None
    merged = {**(known if isinstance(known, dict) else {}), **(earlier if isinstance(earlier, dict) else {}), **told}
    _merge_household(sheet, meter=merged)


def _show_consent(sheet: Context) -> None:
    """Once: the ledger keeps when who we are and how to stop was shown."""
    if sheet.slots.get("greeted") is not True:
        sheet.slots["greeted"] = True
        sheet.add(ShowConsent())


def _guess_language(sheet: Context) -> None:
    """The language of the first text: nobody is asked for what is plain, and is told that there are others."""
    _set_language(sheet)
    sheet.slots["language_guessed"] = True


def _resume(sheet: Context) -> None:
    """``back`` then leads to what was on the way when we had to say first who we are."""
    sheet.slots["trail"] = [str(sheet.slots.pop("after_welcome"))]


def _set_role(sheet: Context) -> None:
    sheet.slots["role"] = str(sheet.event.value)
    sheet.add(SetRole(str(sheet.event.value)))


def _note_air(sheet: Context) -> None:
    """The air as it was texted, with its day: it leads the wood for about a week."""
    heard = sheet.event.value
    if isinstance(heard, AirHeard):
        told = {name: value for name, value in asdict(heard).items() if value is not None}
        _merge_household(sheet, air={**told, "on": sheet.facts.today.isoformat()})


def _set_language(sheet: Context) -> None:
    """Theirs where we speak it; any other is asked for by the flow that follows."""
    wanted = str(sheet.event.value)
    if wanted in sheet.facts.county.languages:
        sheet.slots["language_known"] = True
        sheet.add(SetContact(language=wanted))
    elif sheet.event.value is not None:
        sheet.add(Escalate(EscalationReason.LANGUAGE, Urgency.SOON, {"language": wanted}))


def _set_area(sheet: Context) -> None:
    sheet.add(SetHousehold(area=str(sheet.event.value)))


def _set_address(sheet: Context) -> None:
    sheet.add(SetHousehold(address=deeds_places.words_of(sheet.event)))


def _note_address(sheet: Context) -> None:
    sheet.slots["address_heard"] = deeds_places.words_of(sheet.event)[:60]


def _keep_address(sheet: Context) -> None:
    sheet.add(SetHousehold(address=str(sheet.slots.pop("address_heard", ""))))


def _opt_out(sheet: Context) -> None:
    sheet.add(OptOut(sheet.event.raw), CancelChecks())


def _escalate_danger(sheet: Context) -> None:
    kind = str(sheet.event.value or Danger.LIFE)
    sheet.slots["danger_now"] = True
    if kind in FUMES:
        sheet.slots["fumes_on"] = sheet.facts.today.isoformat()
        sheet.slots.pop("gas_cleared", None)
    sheet.add(Escalate(EscalationReason.DANGER, Urgency.DANGER, {"kind": kind}))


def _ask_for_person(sheet: Context) -> None:
    sheet.add(Escalate(EscalationReason.PERSON, Urgency.SOON))


def _ask_for_language(sheet: Context) -> None:
    wanted = str(sheet.event.value or sheet.event.raw)
    sheet.add(Escalate(EscalationReason.LANGUAGE, Urgency.SOON, {"language": wanted}))


def _escalate_not_understood(sheet: Context) -> None:
    sheet.add(Escalate(EscalationReason.NOT_UNDERSTOOD, Urgency.SOON))


def _escalate_lost(sheet: Context) -> None:
    verdicts = sheet.assessment().verdicts if sheet.places else ()
    worst = next((v.band for band in ("wet", "caution", "dry") for v in verdicts if v.band == band), "unread")
    open_risk = sheet.facts.circumstances.mould_open or told(sheet, "water") == "sewage"
    urgency = Urgency.SOON if worst in {"wet", "caution"} or open_risk else Urgency.ROUTINE
    detail = {"band": str(worst), "stage": str(stage_of(sheet))}
    sheet.add(Escalate(EscalationReason.LOST_FROM_SIGHT, urgency, detail))


def _miss(sheet: Context) -> None:
    misses = sheet.slots.get("misses")
    sheet.slots["misses"] = (misses if isinstance(misses, int) else 0) + 1


def _want_meter(sheet: Context) -> None:
    _meter(sheet, wanted=True)
    sheet.add(Escalate(EscalationReason.METER_WANTED, Urgency.ROUTINE))


def _escalate_house_kind(sheet: Context) -> None:
    sheet.add(Escalate(EscalationReason.HOUSE_KIND, Urgency.SOON, {"kind": str(sheet.event.value)}))


def _report_closed(sheet: Context) -> None:
    bands = {str(v.band) for v in sheet.assessment().verdicts} if sheet.places else {"unread"}
    sheet.add(Escalate(EscalationReason.CLOSED_WHILE_WET, Urgency.URGENT, {"bands": ", ".join(sorted(bands))}))


DEEDS: dict[str, Callable[[Context], None]] = {
    "show_consent": _show_consent,
    "guess_language": _guess_language,
    "resume": _resume,
    "consent": lambda sheet: sheet.add(SetContact(consented=True)),
    "decline": lambda sheet: sheet.add(SetContact(consented=False), CancelChecks()),
    "note_air": _note_air,
    "set_language": _set_language,
    "more_languages": turn_language_page,
    "set_role": _set_role,
    "set_area": _set_area,
    "set_address": _set_address,
    "note_address": _note_address,
    "keep_address": _keep_address,
    "opt_out": _opt_out,
    "opt_in": lambda sheet: sheet.add(OptIn(sheet.event.raw)),
    "escalate_danger": _escalate_danger,
    "ask_for_person": _ask_for_person,
    "gas_cleared": lambda sheet: sheet.slots.update(gas_cleared=True),
    "ask_for_language": _ask_for_language,
    "escalate_not_understood": _escalate_not_understood,
    "escalate_lost": _escalate_lost,
    "miss": _miss,
    "meter_have": lambda sheet: _meter(sheet, have=True),
    "meter_need": lambda sheet: _meter(sheet, have=False),
    "meter_pins": lambda sheet: _meter(sheet, kind="pins"),
    "meter_pinless": lambda sheet: _meter(sheet, kind="pinless"),
    "meter_whose": lambda sheet: _meter(sheet, whose=deeds_places.words_of(sheet.event), block=None),
    "want_meter": _want_meter,
    "house_kind": lambda sheet: _merge_household(sheet, house_kind=str(sheet.event.value)),
    "escalate_house_kind": _escalate_house_kind,
    "report_closed": _report_closed,
    "not_washed_lately": lambda sheet: _merge_household(sheet, washed_on=None),
    **deeds_places.DEEDS,
    **deeds_readings.DEEDS,
    **deeds_waiting.DEEDS,
    **deeds_round.DEEDS,
    **deeds_order.DEEDS,
    **deeds_mould.DEEDS,
    **deeds_told.DEEDS,
    **deeds_water.DEEDS,
    **deeds_house.DEEDS,
    **deeds_reaching.DEEDS,
    **check_block.DEEDS,
    **confirming.DEEDS,
}
