"""Which place of the household is meant: by our label (K2, k-2, K 2) or by the person's own name for the wall."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from guide_service.dialogue.answers.slips import SHORTEST_CORRECTED, Slips, mended, slips_of
from guide_service.dialogue.answers.spelling import BREAK, Token, fold, plain_words
from guide_service.dialogue.events import Listening, PlaceNamed
from guide_service.drying.terms import PlaceKind

AS_DIGITS = str.maketrans("lio", "110")
LOOKS_LIKE_DIGITS = frozenset("lio")
"""Letters typed for 1, 1 and 0. A label that begins with one of them is never a number where such a wall is known, nor
where numbers follow it."""
LARGEST_BAY_APART = 4
"""A bay's number that may stand apart from its letter or its room ("L 3 12", "kitchen 1"): smaller than any reading."""

_IN_A_LABEL = frozenset({"-", "#", "_", BREAK})
"""Signs that people put between the letter and the number of a label."""
_SHORT_WORDS = frozenset({"the", "of", "in", "wall", "room"})


@dataclass(frozen=True, slots=True)
class Atlas:
    """The places of one household, by label and by name."""

    labels: dict[str, str]
    """Folded label to label."""
    walls: dict[tuple[str, ...], tuple[str, ...]]
    """Words of a wall's name to the labels of its places."""
    longest_name: int
    kinds: dict[str, PlaceKind]
    parts: frozenset[str]
    """Words that are part of a wall's name and nobody's whole name."""
    words: frozenset[str]
    slips: Slips
    """Words of five letters and more, by what is left of them when a letter is missing."""
    letters: frozenset[str]
    """Letters of the walls, folded: a letter and a number are a bay there, followed or not."""

    def meant(self, typed: str) -> str | None:
        """The word of a wall's name that ``typed`` is, or is one slip away from."""
        if typed in self.words:
            return typed
        return mended(typed, self.slips) if len(typed) >= SHORTEST_CORRECTED - 1 else None


@dataclass(frozen=True, slots=True)
class PlaceHeard:
    """A place as it was named. ``labels``: those that it may be; empty = none that is known."""

    words: str
    labels: tuple[str, ...]
    kind: PlaceKind | None = None
    like_a_number: bool = False
    """A letter that looks like a digit, of no wall that is known: L4, or 14?"""

    @property
    def may_be_digits(self) -> bool:
        """L4 that nobody follows, after another place: that place's 14, or a bay?"""
        return not self.labels and self.words[0].lower() in LOOKS_LIKE_DIGITS and self.words[1:].isdigit()

    def named(self) -> PlaceNamed:
        return PlaceNamed(self.labels[0] if len(self.labels) == 1 else None, self.words, self.kind)


def atlas_of(listening: Listening) -> Atlas:
    return _atlas(tuple((p.label, p.wall_name, p.kind) for p in listening.places), listening.letters)


@lru_cache(maxsize=2048)
def _atlas(places: tuple[tuple[str, str, PlaceKind], ...], letters: frozenset[str]) -> Atlas:
    walls: dict[tuple[str, ...], tuple[str, ...]] = {}
    for label, name, _ in places:
        name_words = plain_words(name)
        if name_words:
            walls[name_words] = (*walls.get(name_words, ()), label)
    parts = {word for wall in walls if len(wall) > 1 for word in wall if len(word) > 2 and word not in _SHORT_WORDS}
    words = frozenset(word for name in walls for word in name)
    return Atlas(
        words=words,
        slips=slips_of(words),
        labels={fold(label): label for label, _, _ in places},
        walls=walls,
        longest_name=max(map(len, walls), default=0),
        kinds={label: kind for label, _, kind in places},
        parts=frozenset(word for word in parts if (word,) not in walls),
        letters=frozenset(fold(letter) for letter in (*letters, *(p[0].rstrip("0123456789") for p in places))),
    )


def find_label(tokens: Sequence[Token], i: int, atlas: Atlas) -> tuple[int, PlaceHeard] | None:
    """A label at token ``i``: ``K2``, ``k-2``, ``K 2``; of a bay that is not followed only in one piece, or where its
    number can be no reading and one follows (``K 3 12``)."""
    letters = tokens[i].text
    if len(letters) > 2 or not (letters.isascii() and letters.isalpha()) or i + 1 >= len(tokens):
        return None
    if i > 0 and tokens[i].glued and tokens[i - 1].text.isdigit():
        return None
    at = _behind_sign(tokens, i + 1)
    number = tokens[at].text
    if not number.isdigit() or len(number) > 2:
        return None
    words = f"{letters}{int(number)}"
    label = atlas.labels.get(words) or atlas.labels.get(f"{letters}{number}")
    if label is not None:
        return at + 1, PlaceHeard(label, (label,))
    known, like_a_number = letters in atlas.letters, letters in LOOKS_LIKE_DIGITS
    if not tokens[i + 1].glued:
        bay = known and int(number) <= LARGEST_BAY_APART and _number_follows(tokens, at + 1)
    else:
        bay = known or (len(letters) == 1 and not like_a_number)
        bay = bay or (like_a_number and _number_follows(tokens, at + 1))
    return (at + 1, PlaceHeard(words.upper(), (), like_a_number=like_a_number and not known)) if bay else None


def _behind_sign(tokens: Sequence[Token], at: int) -> int:
    """Where the number of a label stands: behind a sign in one piece with its letter ("k-2", "k.2", "k_2"), or behind a
    dash that stands alone, where a reading follows ("k - 2 14")."""
    if at + 1 >= len(tokens) or tokens[at].text not in _IN_A_LABEL:
        return at
    dash = tokens[at].text in ("-", "#")
    if tokens[at].glued and (dash or tokens[at + 1].glued):
        return at + 1
    return at + 1 if dash and not tokens[at + 1].glued and _number_follows(tokens, at + 2) else at


def _number_follows(tokens: Sequence[Token], start: int) -> bool:
    """Whether a number of its own stands further on in this clause."""
    for at in range(start, len(tokens)):
        if tokens[at].text == BREAK:
            return False
        if tokens[at].text[0].isdigit() and not (tokens[at].glued and tokens[at - 1].text.isalpha()):
            return True
    return False


def find_wall(spoken: Sequence[str], i: int, atlas: Atlas) -> tuple[int, PlaceHeard] | None:
    """The longest wall name that begins at token ``i``, with one slip in a word of five letters and more."""
    first = atlas.meant(spoken[i])
    if first is None:
        return None
    for length in range(min(atlas.longest_name, len(spoken) - i), 0, -1):
        heard = tuple(spoken[i : i + length])
        labels = atlas.walls.get(heard) or _with_a_slip(heard, atlas)
        if labels:
            return i + length, PlaceHeard(" ".join(heard), labels)
    if spoken[i] in atlas.parts:
        return i + 1, PlaceHeard(spoken[i], ())
    return None


def _with_a_slip(heard: tuple[str, ...], atlas: Atlas) -> tuple[str, ...]:
    """Labels of the wall whose name differs from ``heard`` by one slip in one word."""
    meant = [atlas.meant(word) for word in heard]
    slipped = sum(1 for typed, word in zip(heard, meant, strict=True) if typed != word)
    return atlas.walls.get(tuple(word or "" for word in meant), ()) if slipped == 1 else ()


def either(one: PlaceHeard, other: PlaceHeard) -> PlaceHeard:
    """Two places that were named for the same numbers: one of them is meant, or both, and it is asked."""
    words = f"{one.words} {other.words}"
    return PlaceHeard(words, (*one.labels, *other.labels), other.kind, one.like_a_number or other.like_a_number)


def of_kind(place: PlaceHeard | None, kind: PlaceKind, words: str, atlas: Atlas) -> PlaceHeard:
    """The places of a kind (subfloor, joist …), within ``place`` when that already narrows it down."""
    within = place.labels if place is not None and place.labels else tuple(atlas.kinds)
    labels = tuple(label for label in within if atlas.kinds[label] is kind)
    return PlaceHeard(f"{place.words} {words}" if place is not None else words, labels, kind)
