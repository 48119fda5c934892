"""What stands in the places of texts: the longest value that may come, and a typical short one.

A text must keep its segment budget with the longest values, and is graded for reading with the typical ones. A name
that is not here is looked up by its last word (``next_date`` as ``date``); a name that is known neither way is
reported.
"""

from __future__ import annotations

from guide_service.wording.gsm import gsm_safe
from guide_service.wording.template import filled, placeholders

LONGEST_OWN_WORDS = 30
"""Characters kept of a name in a person's own words, and of a text that was not understood when it is read back."""

_OWN = "N" * LONGEST_OWN_WORDS
_LABELS = "K10, K11, K12, K13, K14, K15, K16, K17, K18, and K19"
_LIST = "K10 22.5, K11 22.5, K12 22.5, K13 19.5, K14 19.5, K15 19.5, K16 17.5, K17 17.5, K18 17.5, and K19 17.5"

VALUES: dict[str, tuple[str, str]] = {
    # name: (longest, typical)
    "address": ("14500 Upper Larkwater County Road, second floor, Fenn Landing", "12 Mill Road"),
    "address_heard": ("my husband went down to the basement and he does not answer", "the old mill"),
    "agent": ("the agent on duty", "an agent"),
    "area": ("Upper Larkwater", "Millrace"),
    "bay": ("12", "2"),
    "bays": ("2, 5, 8, 11, 14, and 17", "2, 5, and 8"),
    "bleach_cups": ("3/4", "1"),
    "bleach_gallons": ("5", "5"),
    "bleach_spoons": ("1/2", "1"),
    "block_printed": ("24.5", "12"),
    "block_shown": ("24.5", "12"),
    "board_feet": ("4", "4"),
    "callback": ("202-555-0123", "202-555-0123"),
    "caution": ("10", "2"),
    "checks": ("12", "4"),
    "code": ("482 917", "482 917"),
    "count": ("120", "3"),
    "county": ("Larkwater County", "Larkwater County"),
    "cut_inches": ("24", "12"),
    "date": ("Wed Sep 30", "Tue Dec 1"),
    "day": ("Wed Sep 30", "Tue Dec 1"),
    "days": ("14", "3"),
    "digits": ("0123", "0123"),
    "distress_line": ("1-800-555-0123", "202-555-0123"),
    "dry": ("10", "2"),
    "dry_days": ("14", "7"),
    "earliest": ("Wed Sep 30", "Tue Dec 1"),
    "emergency": ("911", "911"),
    "example": ("K12", "K2"),
    "file_next": ("Wed Sep 30", "Tue Dec 1"),
    "file_role": ("I do the work", "I rent it"),
    "first_check": ("Wed Sep 30", "Tue Dec 1"),
    "house": (_OWN, "12 Mill Road"),
    "rooms_heard": (_OWN, "both bedrooms"),
    "hours": ("8:00 AM to 12:30 PM, Mon to Fri", "8 to 5"),
    "keep_days": ("1825", "365"),
    "label": ("Deck, joist or sill not in a wall", "Owner"),
    "labels": (_LABELS, "K1, K2, and K3"),
    "language": ("Vietnamese", "Spanish"),
    "latest": ("Wed Sep 30", "Fri Dec 4"),
    "limit": ("15.5", "15"),
    "list": (_LIST, "K1 22 and K2 19"),
    "look_weeks": ("12", "4"),
    "many.words": ("N" * 320, "The office has meters to lend."),
    "meter": ("number 12", "number 4"),
    "meter_place": ("Upper Larkwater volunteer fire hall, 145 Upper Mill Road, weekdays 8 to 5", "the fire hall"),
    "mold_feet": ("10", "3"),
    "name": (_OWN, "kitchen"),
    "flooded": ("Wed Sep 30", "Tue Dec 1"),
    "next_check": ("Wed Sep 30", "Tue Dec 1"),
    "number": ("120", "3"),
    "office": ("Upper Larkwater office of Larkwater County", "Millrace office"),
    "old_house": ("1980", "1980"),
    "percent": ("100", "14"),
    "phone": ("202-555-0123", "202-555-0123"),
    "place": ("K12", "K2"),
    "places": (_LABELS, "K1 and K2"),
    "point": ("bottom board", "low stud"),
    "points": ("bottom board, low stud, and mid stud", "low stud"),
    "poison_line": ("1-800-555-0123", "202-555-0123"),
    "pump_feet": ("3", "2"),
    "pump_share": ("1/10", "1/3"),
    "reading": ("over 60", "14"),
    "readings": ("22.5, 19.5, and 17.5", "22, 19, and 17"),
    "reason": (f"places are not read yet: {_LABELS}", "the readings are too old"),
    "deletion.reason": ("someone else of this house wants to keep it", "its records rules keep it"),
    "alarm.reason": ("a house of a kind that a person must look at", "the readings are too old"),
    "reason.list": (_LABELS, "K1 and K2"),
    "reasons": (
        f"places are not read yet: {_LABELS}, and we do not know if the meter was on its wood setting",
        "the readings are too old",
    ),
    "referral_line": ("211 or 202-555-0123", "211"),
    "room": (_OWN, "kitchen"),
    "step": ("before the walls are closed", "opening walls"),
    "suggestion": ("14.5, 15.5, and 16.5", "14"),
    "taken_back": ("K12 22.5 19.5 17.5", "K2 22 19 17"),
    "text_number": ("202-555-0100", "202-555-0100"),
    "time": ("12:30 PM", "9 AM"),
    "total": ("120", "3"),
    "unclear": (_OWN, "145"),
    "unconfirmed": (
        "K10 22.5 22.5 22.5, K11 19.5 19.5 19.5, K12 22.5 22.5 22.5, K13 17.5 17.5 17.5, K14 19.5 19.5 19.5, "
        "and K15 22.5 22.5 22.5",
        "K1 22 19 17 and K2 12 11 11",
    ),
    "urgency": ("as soon as you can", "today"),
    "v1": ("over 60", "22"),
    "v2": ("over 60", "19"),
    "v3": ("over 60", "17"),
    "value": ("over 60", "14"),
    "values": ("22.5 19.5 17.5", "22 19 17"),
    "wall": (_OWN, "kitchen"),
    "walls": (f"{_OWN} and {_OWN}", "kitchen and hall"),
    "weeks": ("12", "3"),
    "wet": ("10", "2"),
    "wet_limit": ("20.5", "20"),
    "which": (_OWN, "kitchen"),
    "words": (_OWN, "kitchen"),
}


def longest(name: str, message_id: str = "") -> str | None:
    """The longest value of a placeholder in a message, or None for a name that this table does not know."""
    values = _values(name, message_id)
    return values and values[0]


def typical(name: str) -> str:
    """A typical short value of a placeholder; a plain word where the table does not know the name."""
    values = _values(name, "")
    return values[1] if values else "kitchen"


def at_its_longest(text: str, message_id: str) -> str:
    """A text of a message with every place filled by the longest value, as plain as a text message is sent."""
    return gsm_safe(filled(text, {name: longest(name, message_id) or "" for name in placeholders(text)}))


def _values(name: str, message_id: str) -> tuple[str, str] | None:
    topic = message_id.partition(".")[0]
    last_word = name.rstrip("0123456789_").rpartition("_")[2]
    return VALUES.get(f"{topic}.{name}") or VALUES.get(name) or VALUES.get(last_word)
