"""The household code: six digits in two groups, the last of them a check digit.

The check digit is that of ISO/IEC 7064, MOD 11-10 (the hybrid system for digits alone): it finds every single wrong
digit and almost every pair that was swapped, which are the slips of people who read a number aloud or copy it. Digits
alone, since they are read aloud the same way in every language. Five free digits are few: what keeps a code from being
guessed is that it opens a house for some days only and that a phone has few tries (``guide_service.turning.houses``).
"""

from __future__ import annotations

import re
from collections.abc import Callable

from guide_service.dialogue.answers.spelling import fold

FREE_DIGITS = 5
LENGTH = FREE_DIGITS + 1
_HELP = re.compile(r"911|112|999|^(?:[2-8]11|988)|(?:[2-8]11|988)$")
"""Numbers that people dial for help: a code that holds one would be heard as a cry for it. 911 of North America, 112
and 999 of elsewhere, in any place, because digits are also written one by one; the others as a group of their own."""
_APART = r"[ .\-]"
_GROUPS = re.compile(
    rf"(?<!\w)(?<!\d{_APART})(?:\d{{6}}|\d{{3}}{_APART}{{1,2}}\d{{3}}|\d(?: \d){{5}})(?!\w)(?!{_APART}?\d)"
)


def check_digit(free: str) -> str:
    """The last digit of a code by ISO/IEC 7064 MOD 11-10. ``free``: the five others; anything else is a ValueError."""
    if len(free) != FREE_DIGITS or not (free.isascii() and free.isdigit()):
        raise ValueError("five digits are needed")
    product = 10
    for digit in free:
        product = (product + int(digit)) % 10 or 10
        product = product * 2 % 11
    return str((11 - product) % 10)


def made_of(number: int) -> str:
    """The code of a number below 100 000."""
    free = f"{number:0{FREE_DIGITS}d}"
    return free + check_digit(free)


def drawn(below: Callable[[int], int]) -> str:
    """A new code. ``below``: a number below its argument, by chance."""
    while True:
        code = made_of(below(10**FREE_DIGITS))
        if _HELP.search(code) is None:
            return code


def is_code(digits: str) -> bool:
    """Whether these six digits were copied without a slip."""
    if len(digits) != LENGTH or not (digits.isascii() and digits.isdigit()):
        return False
    return check_digit(digits[:FREE_DIGITS]) == digits[FREE_DIGITS]


def read_digits(text: str) -> str | None:
    """The six digits that stand in a text as a code does ("482 917", "482-917"); None for none or for several."""
    found = {re.sub(r"\D", "", match) for match in _GROUPS.findall(fold(text))}
    return found.pop() if len(found) == 1 else None


def grouped(code: str) -> str:
    """As it is written and read aloud: two groups of three."""
    return f"{code[:3]} {code[3:]}"


def last_group(code: str) -> str:
    return code[3:]
