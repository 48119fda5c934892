"""What stands in the places of texts: the longest value that may come, and a typical short one.

A text must keep its segment budget with the longest values, and is graded for reading with the typical ones. A name
that is not here is looked up by its last word (``next_date`` as ``date``); a name that is known neither way is
reported.
"""

from __future__ import annotations

LONGEST_OWN_WORDS = 24
"""Characters kept of a name in a person's own words."""

VALUES: dict[str, tuple[str, str]] = {
    # name: (longest, typical)
    "address": ("1450 Upper Larkwater Road", "12 Mill Road"),
    "agent": ("the agent on duty", "an agent"),
    "answers": ("1 owner, 2 renter, 3 landlord, 4 contractor, 5 helper", "1 yes, 2 no"),
    "area": ("Upper Larkwater", "Millrace"),
    "bay": ("12", "2"),
    "bays": ("2, 5, 8, 11, 14, and 17", "2, 5, and 8"),
    "callback": ("202-555-0123", "202-555-0123"),
    "code": ("KR74-QX29", "KR74"),
    "count": ("120", "3"),
    "county": ("Larkwater County", "Larkwater County"),
    "date": ("Wed Sep 30", "Tue Dec 1"),
    "day": ("Wed Sep 30", "Tue Dec 1"),
    "days": ("14", "3"),
    "emergency": ("911", "911"),
    "from": ("Wed Sep 30", "Tue Dec 1"),
    "hours": ("8:00 AM to 12:30 PM, Mon to Fri", "8 to 5"),
    "label": ("K12", "K2"),
    "labels": ("K10, K11, K12, K13, K14, and K15", "K1, K2, and K3"),
    "language": ("Vietnamese", "Spanish"),
    "last": ("K12", "K3"),
    "limit": ("15.5", "15"),
    "meter": ("number 12", "number 4"),
    "month": ("September", "May"),
    "name": ("N" * LONGEST_OWN_WORDS, "kitchen"),
    "number": ("120", "3"),
    "office": ("Upper Larkwater office", "Millrace office"),
    "percent": ("100", "14"),
    "phone": ("202-555-0123", "202-555-0123"),
    "place": ("K12", "K2"),
    "places": ("K10, K11, K12, K13, K14, and K15", "K1 and K2"),
    "point": ("sheathing", "low stud"),
    "points": ("plate, low stud, and mid stud", "plate"),
    "reading": ("over 60", "14"),
    "readings": ("plate 22.5, low stud 19.5, mid stud 17.5", "22, 19, 17"),
    "room": ("N" * LONGEST_OWN_WORDS, "kitchen"),
    "step": ("12", "3"),
    "steps": ("12", "9"),
    "time": ("12:30 PM", "9 AM"),
    "to": ("Wed Sep 30", "Fri Dec 4"),
    "total": ("120", "3"),
    "until": ("Wed Sep 30", "Tue Dec 1"),
    "value": ("over 60", "14"),
    "wall": ("N" * LONGEST_OWN_WORDS, "kitchen"),
    "walls": (f"{'N' * LONGEST_OWN_WORDS} and {'N' * LONGEST_OWN_WORDS}", "kitchen and hall"),
    "weeks": ("12", "3"),
    "which": (f"K1, K2, and {'N' * LONGEST_OWN_WORDS}", "kitchen"),
    "words": ("N" * LONGEST_OWN_WORDS, "kitchen"),
}


def longest(name: str) -> str | None:
    """The longest value of a placeholder, or None for a name that this table does not know."""
    values = _values(name)
    return values and values[0]


def typical(name: str) -> str:
    """A typical short value of a placeholder; a plain word where the table does not know the name."""
    values = _values(name)
    return values[1] if values else "kitchen"


def _values(name: str) -> tuple[str, str] | None:
    return VALUES.get(name) or VALUES.get(name.rstrip("0123456789_").rpartition("_")[2])
