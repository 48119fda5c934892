"""Guards of whose house it is: codes, several houses, the proof that a file is one's own."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable

from guide_service.dialogue import codes
from guide_service.dialogue.answers.spelling import plain_words, stands_in
from guide_service.dialogue.context import Context
from guide_service.dialogue.effects import EscalationReason
from guide_service.dialogue.house_facts import CodeHeard, Deletion

MOST_CODES_A_DAY = 5
MOST_PROOFS = 3
"""Tries until a person looks. Our choice: three of some ninety-nine house numbers."""
LONGEST_ROOM = 4
"""Words of an answer that names a room."""
RESIDENTS = frozenset({"owner", "renter", "landlord"})
_HOUSE_NUMBER = re.compile(r"\d+")


def must_prove(sheet: Context) -> bool:
    return sheet.facts.house.must_prove and "proved_now" not in sheet.slots


def house_number(sheet: Context) -> str | None:
    found = _HOUSE_NUMBER.search(sheet.facts.address or "")
    return found.group().lstrip("0") if found else None


def rooms(sheet: Context) -> list[tuple[str, ...]]:
    """Names of measured rooms: proof only where no house number is known, since half the county has a kitchen."""
    return [] if house_number(sheet) else [plain_words(wall.name) for wall in sheet.facts.walls if wall.name.strip()]


def _can_be_proved(sheet: Context) -> bool:
    return bool(sheet.facts.house.code or house_number(sheet) or rooms(sheet))


def proves(sheet: Context, said: str) -> bool:
    """Whether these words hold the household's code, its house number as the only number, or a measured room alone."""
    digits = codes.read_digits(said)
    if digits is not None and digits == sheet.facts.house.code:
        return True
    numbers = {number.lstrip("0") for number in _HOUSE_NUMBER.findall(said)}
    if house_number(sheet) is not None and numbers == {house_number(sheet)}:
        return True
    words = plain_words(said)
    return len(words) <= LONGEST_ROOM and any(stands_in(room, words) for room in rooms(sheet))


def may_confirm(sheet: Context) -> bool:
    """Somebody who lives there or owns it, while readings of a helper wait to be confirmed."""
    resident = sheet.slots.get("role", sheet.facts.role) in RESIDENTS
    return resident and any(not reading.confirmed for reading in sheet.readings())


def proof_tries(sheet: Context) -> int:
    tries = sheet.slots.get("proof_tries")
    return tries if isinstance(tries, int) else 0


def is_guess(sheet: Context) -> bool:
    """Whether these words could prove anything: "it is me" is no try where only a number can, and locks nobody out."""
    return bool(rooms(sheet)) or any(sign.isdigit() for sign in sheet.event.raw)


def _locked(sheet: Context) -> bool:
    return str(EscalationReason.IDENTITY) in sheet.facts.escalations


def reminder_fits(sheet: Context) -> bool:
    """A time of day at which we may speak; a text that goes out at the very end would wait until the morning."""
    house, time = sheet.facts.house, sheet.event.value
    return isinstance(time, dt.time) and house.speak_from <= time < house.speak_until


GUARDS: dict[str, Callable[[Context], bool]] = {
    "consented": lambda sheet: sheet.facts.consented,
    "must_prove": must_prove,
    "of_one_call": lambda sheet: sheet.facts.house.one_call,
    "proof_asked_just_now": lambda sheet: "gated_now" in sheet.slots,
    "proves_household": lambda sheet: proves(sheet, sheet.event.raw),
    "can_be_proved": _can_be_proved,
    "proof_tries_left": lambda sheet: proof_tries(sheet) + is_guess(sheet) < MOST_PROOFS,
    "file_locked": _locked,
    "proof_for_file": lambda sheet: sheet.slots.get("proof_for") == "file",
    "proof_for_deletion": lambda sheet: sheet.slots.get("proof_for") == "deletion",
    "may_confirm": may_confirm,
    "may_have_code": lambda sheet: sheet.facts.role in RESIDENTS,
    "code_joins": lambda sheet: sheet.facts.house.heard == CodeHeard.JOINS and "joined_now" not in sheet.slots,
    "code_of_mine": lambda sheet: sheet.facts.house.heard == CodeHeard.HERE,
    "code_slip": lambda sheet: sheet.facts.house.heard == CodeHeard.SLIP,
    "codes_left": lambda sheet: sheet.facts.house.tries < MOST_CODES_A_DAY,
    "helps": lambda sheet: sheet.slots.get("role", sheet.facts.role) not in RESIDENTS,
    "several_houses": lambda sheet: sheet.facts.house.several,
    "house_named": lambda sheet: str(sheet.event.value) in dict(sheet.facts.house.all),
    "numbers_of_some_house": lambda sheet: sheet.facts.house.several and sheet.event.value == "numbers",
    "deletion_open": lambda sheet: sheet.facts.house.deletion == Deletion.CAN_BE_TAKEN_BACK,
    "deletion_asked": lambda sheet: sheet.facts.house.deletion != Deletion.NOT_ASKED,
    "reminder_fits": reminder_fits,
}
