"""How a phone is reached by what we start: chosen by its owner, asked about, never guessed.

Words that may mean "ring me with reminders" lead to one question; only its answer is consent. Words against calls end
them at once, and whether texts shall come instead is asked, since whoever agreed to calls did not agree to texts.
"""

from __future__ import annotations

from collections.abc import Callable

from guide_service.dialogue.context import Context
from guide_service.dialogue.effects import SetContact, ShowConsent
from guide_service.dialogue.guards_house import must_prove

NO_CALLS = "none"
"""Value of the event ``calls`` of somebody who wants none."""
QUESTION = "reaching.calls"
ASKED_FROM, CHOSEN = "calls_from", "calls_chosen"
"""Slots: where the conversation stood when calls were spoken of; that they were agreed to."""
FIRST, REST = "first", "rest"


def _note_wish(sheet: Context) -> None:
    """At first contact: asked about once the person knows who we are."""
    sheet.slots[ASKED_FROM] = FIRST


def _forget_wish(sheet: Context) -> None:
    sheet.slots.pop(ASKED_FROM, None)


def _begin(sheet: Context) -> None:
    at_rest = sheet.slots.get("state") in {"home.rest", "stopped"}
    sheet.slots[ASKED_FROM] = REST if at_rest else "question"


def _show(sheet: Context) -> None:
    sheet.add(ShowConsent(QUESTION))


def _choose_calls(sheet: Context) -> None:
    sheet.slots[CHOSEN] = True
    sheet.add(SetContact(consented=True, channel="call"))


def _choose_texts(sheet: Context) -> None:
    sheet.slots[CHOSEN] = True
    sheet.add(SetContact(consented=True, channel="sms"))


def _leave(sheet: Context) -> None:
    """The way back leads to what was asked before."""
    trail = sheet.slots.get("trail")
    while isinstance(trail, list) and trail and str(trail[-1]).startswith("reaching."):
        trail.pop()


def _end_calls(sheet: Context) -> None:
    sheet.add(SetContact(consented=False, channel="sms"))


def _ends_calls(sheet: Context) -> bool:
    return sheet.event.value == NO_CALLS and sheet.facts.house.by_phone


def _can_be_spoken(sheet: Context) -> bool:
    chosen = [each.language for each in sheet.effects if isinstance(each, SetContact) and each.language]
    return (chosen or [sheet.facts.language])[-1] not in sheet.facts.unspoken


GUARDS: dict[str, Callable[[Context], bool]] = {
    "wants_no_calls": lambda sheet: sheet.event.value == NO_CALLS,
    "ends_calls": _ends_calls,
    "ends_calls_unproved": lambda sheet: _ends_calls(sheet) and must_prove(sheet),
    "by_phone": lambda sheet: sheet.facts.house.by_phone and sheet.facts.consented,
    "can_be_spoken": _can_be_spoken,
    "calls_wished": lambda sheet: sheet.slots.get(ASKED_FROM) == FIRST and _can_be_spoken(sheet),
    "calls_from_rest": lambda sheet: sheet.slots.get(ASKED_FROM) == REST,
    "reaching_chosen": lambda sheet: sheet.slots.get(CHOSEN) is True,
}
DEEDS: dict[str, Callable[[Context], None]] = {
    "note_calls_wish": _note_wish,
    "begin_reaching": _begin,
    "forget_calls_wish": _forget_wish,
    "show_calls": _show,
    "choose_calls": _choose_calls,
    "choose_texts": _choose_texts,
    "end_calls": _end_calls,
    "leave_reaching": _leave,
}
