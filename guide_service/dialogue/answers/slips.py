"""Typing slips: one letter too many, too few, wrong, or two neighbours swapped (Damerau 1964), in words that matter.

Never in short words, where a slip makes another word, and never in numbers. Words are filed under every form that one
missing letter leaves of them, so that a typed word is looked up and not compared with all.

``Mending`` is the rule for the words of a language. What is typed and no word of any language that we know is the one
word of the file that is one slip away, with its first letter (a slip there is rare, and words that differ in it are
many: common practice of spelling correction). Of several the one that a letter was left out of, or two swapped in,
which is what hurried thumbs do; of several such, none. Numbers and words that end or begin the messages are never what
a slip leads to. Words that the file lists for it may be shorter, and begin otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

SHORTEST_CORRECTED = 5
"""Letters. A slip in a shorter word makes another word too easily."""
SHORTEST_OF_ANY = 6
"""Letters of a word that any slip may lead to, where only the list of the language's real words tells that it is one;
in a word of one letter less only two swapped ones."""

Slips = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Mending:
    """What a language's slips lead to."""

    slips: Slips = field(repr=False)
    """Words that a slip may lead to, and ``never``."""
    listed: frozenset[str] = field(repr=False)
    """Those of them that the file itself names: short ones too."""
    kept: frozenset[str] = field(repr=False)
    """Words that some language has: no slips."""
    never: frozenset[str] = field(repr=False)
    """Numbers, opt-out and opt-in: what may be a slip of one of them stays as it was typed."""

    def meant(self, typed: str) -> str:
        """The word that ``typed`` is a slip of, or ``typed`` itself."""
        if len(typed) < SHORTEST_CORRECTED - 1 or typed in self.kept or not typed.isalpha():
            return typed
        near = [word for word in _near(typed, self.slips) if word in self.listed or self._may_be(typed, word)]
        if len(near) > 1:
            near = [word for word in near if len(typed) < len(word) or sorted(typed) == sorted(word)]
        return near[0] if len(near) == 1 and near[0] not in self.never else typed

    @staticmethod
    def _may_be(typed: str, word: str) -> bool:
        return word[0] == typed[0] and (len(word) >= SHORTEST_OF_ANY or sorted(typed) == sorted(word))


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
    meant = _near(typed, slips) if typed.isalpha() else []
    return meant[0] if len(meant) == 1 else None


def may_be_slip(typed: str, meant: str) -> bool:
    """Whether ``typed`` may be a slip of a word that is offered or named: it is long enough, and begins like it."""
    return len(meant) >= SHORTEST_CORRECTED and typed[0] == meant[0] and within_one_slip(typed, meant)


def _near(typed: str, slips: Slips) -> list[str]:
    candidates = set(slips.get(typed, ()))
    for form in _missing_one(typed):
        if form in slips:
            candidates.update(slips[form])
    return [word for word in candidates if within_one_slip(typed, word)]


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
