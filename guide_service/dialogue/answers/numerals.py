"""One typed number: what it says, or why it must be asked.

Rules of this file: a number is one or two digits with at most one decimal; ``14,5`` is a decimal where that is the only
sensible reading; ``22,19,17`` is a list; whatever could be either is asked
(Babel's lenient parser would read "14,5" as 145).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from guide_service.dialogue.events import WhyUnclear

LONGEST_NUMBER = 4
"""Digits; a longer one is a house number, a year with a typing error, a phone number."""
LONGEST_RUN = 8
"""Digits of a run such as 221917, which may be readings without blanks: asked. A longer one is a phone number."""
BELOW_ANY_METER = 6
"""Lowest value that pin meters commonly show on wood [% MC] (common practice: scales begin at 5 to 7)."""


@dataclass(frozen=True, slots=True)
class Number:
    """``values`` of one token; empty with a reason when it must be asked."""

    values: tuple[float, ...]
    why: WhyUnclear | None = None
    suggestion: float | None = None
    spelled: bool = False
    """Written in words."""
    decimals: bool = False


@lru_cache(maxsize=8192)
def read_number(typed: str, decimal_comma: bool, single: bool) -> Number | None:
    """The number(s) of a token of ASCII digits, points and commas; ``None`` when it cannot be a reading or an answer.

    ``single``: one number is asked, so that a comma can only be a decimal comma.
    """
    if typed.isdigit():
        if len(typed) <= LONGEST_NUMBER:
            return Number((float(typed),))
        return Number((), WhyUnclear.TOO_HIGH) if len(typed) <= LONGEST_RUN else None
    if typed.count(",") + typed.count(".") > 1:
        return _read_list(typed)
    whole, sign, part = typed.replace(",", " , ").replace(".", " . ").split()
    if len(whole) > LONGEST_NUMBER or len(part) > 2:
        return None
    value = float(f"{whole}.{part}")
    if len(part) == 2 and part[1] != "0":
        return Number((), WhyUnclear.MANY_NUMBERS)
    if sign == "," and not _only_decimal(part, decimal_comma, single):
        return Number((), WhyUnclear.MANY_NUMBERS)
    return Number((value,), decimals=True)


def _only_decimal(part: str, decimal_comma: bool, single: bool) -> bool:
    return len(part) == 1 and (decimal_comma or single or int(part) < BELOW_ANY_METER)


def _read_list(typed: str) -> Number | None:
    """``22,19,17`` or ``22.5,19.5``: numbers set apart by commas without blanks."""
    parts = typed.split(",")
    if len(parts) == 1 or any(len(part) > LONGEST_NUMBER or part.count(".") > 1 for part in parts):
        return Number((), WhyUnclear.MANY_NUMBERS) if len(typed) <= 3 * LONGEST_NUMBER else None
    if any(len(part) == 1 for part in parts[1:]) or any(len(part) == 3 and "." not in part for part in parts[1:]):
        return Number((), WhyUnclear.MANY_NUMBERS)
    return Number(tuple(float(part) for part in parts), decimals="." in typed)
