"""Our short labels for places: a letter and a number (K2), so that labels and readings cannot be confused."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

USABLE = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Without I and O: on a small screen they are 1 and 0."""
SHORT_WORD = 3
"""Letters of the, my, la, el, les ... (our rule; it only chooses a letter)."""


def letter_for(name: str, taken: Iterable[str]) -> str:
    """The letter of a new wall: the first letter of its name that is free, then the first free of the alphabet, then
    two letters. ``taken`` are the letters of all walls the household ever had."""
    used = set(taken)
    plain = unicodedata.normalize("NFKD", _telling_part(name)).upper()
    for letter in [ch for ch in plain if ch in USABLE] + list(USABLE):
        if letter not in used:
            return letter
    return next(a + b for a in USABLE for b in USABLE if a + b not in used)


def _telling_part(name: str) -> str:
    """ "kitchen" of "the kitchen": a short first word is an article more often than a name."""
    first, _, rest = name.partition(" ")
    return rest if rest.strip() and len(first) <= SHORT_WORD else name


def label_of(letter: str, number: int) -> str:
    return f"{letter}{number}"


def letter_of(label: str) -> str:
    """The letter of a label, which is its wall's: K of ``K2``."""
    return label.rstrip("0123456789")


def number_of(label: str) -> int:
    """The number of a label: 2 of ``K2``; 0 when it has none."""
    digits = "".join(ch for ch in label if ch.isdigit())
    return int(digits) if digits else 0


def order_of(label: str) -> tuple[str, int]:
    """To sort by: K2 before K10."""
    return letter_of(label), number_of(label)


def in_order(labels: Iterable[str]) -> list[str]:
    return sorted(labels, key=order_of)
