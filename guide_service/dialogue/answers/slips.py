"""Typing slips: one letter too many, too few, wrong, or two neighbours swapped (Damerau 1964), in words that matter.

Never in short words, where a slip makes another word, and never in numbers. Words are filed under every form that one
missing letter leaves of them, so that a typed word is looked up and not compared with all.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

SHORTEST_CORRECTED = 5
"""Letters. A slip in a shorter word makes another word too easily."""

Slips = Mapping[str, tuple[str, ...]]


def slips_of(words: Iterable[str]) -> Slips:
    """``words`` of five letters and more, by each form that a missing letter leaves of them, and by themselves."""
    found: dict[str, tuple[str, ...]] = {}
    for word in sorted(set(words)):
        if len(word) >= SHORTEST_CORRECTED and word.isalpha():
            for form in {word, *_missing_one(word)}:
                found[form] = (*found.get(form, ()), word)
    return found


def mended(typed: str, slips: Slips) -> str | None:
    """The one word of ``slips`` that is ``typed`` or one slip away from it; ``None``: none, or more than one."""
    candidates = set(slips.get(typed, ()))
    for form in _missing_one(typed):
        if form in slips:
            candidates.update(slips[form])
    if not candidates or not typed.isalpha():
        return None
    meant = [word for word in candidates if within_one_slip(typed, word)]
    return meant[0] if len(meant) == 1 else None


def _missing_one(word: str) -> Iterator[str]:
    return (word[:i] + word[i + 1 :] for i in range(len(word)))


def within_one_slip(typed: str, meant: str) -> bool:
    """Whether one letter too many, too few, wrong, or two neighbours swapped turns one into the other."""
    if typed == meant:
        return True
    if abs(len(typed) - len(meant)) > 1:
        return False
    i = 0
    while i < min(len(typed), len(meant)) and typed[i] == meant[i]:
        i += 1
    rest_typed, rest_meant = typed[i:], meant[i:]
    return (
        rest_typed[1:] == rest_meant[1:]
        or rest_typed[1:] == rest_meant
        or rest_typed == rest_meant[1:]
        or (rest_typed[1:2] + rest_typed[:1] + rest_typed[2:] == rest_meant and len(rest_meant) > 1)
    )
