"""Rooms with their bays in one text: "2 bays in kitchen and 2 in living room" sets places up and is no reading.

Only where the whole text is a count, a word for bay and a room, then further counts and rooms; anything else is left to
the other grammars, which ask.
"""

from __future__ import annotations

from collections.abc import Sequence

from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexemes import Lexeme
from guide_service.dialogue.answers.questions import MOST_BAYS
from guide_service.dialogue.events import RoomHeard, RoomsHeard

MOST_WORDS = 4
"""Of a room's name."""
_BETWEEN = frozenset({"comma", "break", "and", "harmless"})
_NAME = frozenset({"word", "place", "kinds", "points", "link"})


def rooms_with_bays(heard: Heard, lexemes: Sequence[Lexeme]) -> RoomsHeard | None:
    """The rooms with the number of their open bays, or ``None`` when the text is anything else."""
    if not any(lexeme.kind == "bay" for lexeme in lexemes):
        return None
    rooms: list[RoomHeard] = []
    at = 0
    while at < len(lexemes):
        if lexemes[at].kind in _BETWEEN:
            at += 1
            continue
        found = _room(heard, lexemes, at, first=not rooms)
        if found is None:
            return None
        room, at = found
        rooms.append(room)
    return RoomsHeard(tuple(rooms)) if rooms else None


def _room(heard: Heard, lexemes: Sequence[Lexeme], at: int, *, first: bool) -> tuple[RoomHeard, int] | None:
    bays = _count(lexemes[at])
    after = at + 1
    says_bays = after < len(lexemes) and lexemes[after].kind == "bay"
    if bays is None or (first and not says_bays):
        return None
    after += says_bays
    while after < len(lexemes) and lexemes[after].kind == "link":
        after += 1
    end = after
    while end < len(lexemes) and lexemes[end].kind in _NAME:
        end += 1
    if not 0 < end - after <= MOST_WORDS:
        return None
    return RoomHeard(heard.raw(lexemes[after].start, lexemes[end - 1].end), bays), end


def _count(lexeme: Lexeme) -> int | None:
    if lexeme.kind not in ("figure", "counted"):
        return None
    value = lexeme.value.value if lexeme.value.value is not None else lexeme.value.suggestion
    whole = value is not None and value % 1 == 0 and 1 <= value <= MOST_BAYS
    return int(value) if whole and value is not None else None
