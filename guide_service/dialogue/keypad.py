"""What the keys of a phone mean where numbers are asked for.

A reading is two digits, with star and one more digit for tenths: 22, 07, 14*5. So several of them in a row can be told
apart without a key between them: 221917 is 22, 19 and 17; 14*51312 is 14.5, 13 and 12. Star star stands for a reading
over the meter's range. Whatever does not fit is no reading at all: nothing is guessed, and what fits is read back
before it counts.
"""

from __future__ import annotations

import re

from guide_service.dialogue.events import EventName, Expect

PERSON, REPEAT, MORE, END, WAIT, BACK, LEAVE_OUT = "0", "*", "#", "9", "8", "7", "5"
OVER_RANGE = "OL"
"""As meters show it, and as texts of every language are understood."""
MOST_READINGS = 4
_ONE = re.compile(r"\*\*|(\d\d)(?:\*(\d))?")
_NUMBER = re.compile(r"(\d{1,4})(?:\*(\d))?")

COMMANDS = {BACK: EventName.BACK, LEAVE_OUT: EventName.SKIP}
"""Keys that are events of the conversation where readings are asked for; after a star wherever a number is."""


def readings(keys: str) -> tuple[str, ...] | None:
    """The readings that ``keys`` are, as a text has them ("22", "14.5", "OL"); None when they are none for certain."""
    found, at = [], 0
    while at < len(keys):
        one = _ONE.match(keys, at)
        if one is None:
            return None
        found.append(OVER_RANGE if one[0] == "**" else f"{int(one[1])}{'.' + one[2] if one[2] else ''}")
        at = one.end()
    return tuple(found) if 0 < len(found) <= MOST_READINGS else None


def answer(keys: str, expect: Expect) -> str | None:
    """What ``keys`` answer to a question for a number, several bays, or a name that has a number (a house, a meter)."""
    if expect is Expect.BAYS:
        bays = [bay for bay in keys.split("*") if bay]
        return " ".join(bays) if bays and all(len(bay) <= 2 for bay in bays) else None
    one = _NUMBER.fullmatch(keys)
    if expect is Expect.NAME:
        return keys if keys.isdigit() and len(keys) <= 8 else None
    if expect is Expect.COUNT:
        return keys if keys.isdigit() and len(keys) <= 2 else None
    if expect is Expect.NUMBER and one is not None:
        return f"{int(one[1])}{'.' + one[2] if one[2] else ''}"
    return None


def command(keys: str, expect: Expect) -> str | None:
    """The key that commands something, where ``keys`` are one: alone, or after a star where digits are values."""
    if keys in (PERSON, REPEAT):
        return keys
    known = {END, WAIT, *COMMANDS}
    if expect is Expect.READINGS and keys in known:
        return keys
    return keys[1] if len(keys) == 2 and keys[0] == "*" and keys[1] in known else None
