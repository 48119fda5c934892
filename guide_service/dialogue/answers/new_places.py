"""Readings of places that nobody has set up: "attic 14 13 12". The words are kept, and whether it is a place is asked.

Only where a clause is nothing but a few words and then numbers that wood can have; anything else is left alone, so that
"2 kids and 1 dog" or "flooded 3 feet" is never a reading.
"""

from __future__ import annotations

from collections.abc import Sequence

from guide_service.dialogue.answers.figures import Figure
from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexemes import Lexeme
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.phrases import longest
from guide_service.dialogue.events import PlaceNamed, ReadingHeard, ReadingsHeard
from guide_service.drying.terms import PlaceKind, Qualifier

MOST_WORDS = 3
MOST_NUMBERS = 3
LEAST, MOST = 5.0, 60.0
"""[% MC] What a pin meter shows on wet or dry wood (common practice); other numbers need a known place."""
_BETWEEN = frozenset({"comma", "break", "slash", "link", "colon", "and", "percent"})


def read_new_places(heard: Heard, lexemes: Sequence[Lexeme]) -> ReadingsHeard | None:
    """Items whose place has words and no label; None as soon as a clause is anything else."""
    items: list[ReadingHeard] = []
    words: list[Lexeme] = []
    numbers: list[Lexeme] = []
    for lexeme in lexemes:
        if lexeme.kind in ("word", "kinds"):
            if numbers:
                items += _clause(heard, words, numbers)
                words, numbers = [], []
            words.append(lexeme)
        elif lexeme.kind == "figure" and words and _is_wood(lexeme.value):
            numbers.append(lexeme)
        elif lexeme.kind not in _BETWEEN:
            return None
        if len(words) > MOST_WORDS or len(numbers) > MOST_NUMBERS:
            return None
    if not words or not numbers:
        return None
    items += _clause(heard, words, numbers)
    told = [item.place.words for item in items if item.place]
    # "lost 30 percent" is no place; somewhere two numbers must stand together
    return ReadingsHeard(tuple(items)) if any(told.count(name) > 1 for name in told) else None


def _is_wood(figure: Figure) -> bool:
    if figure.value is None or figure.why is not None:
        return False
    return figure.qualifier is not Qualifier.EXACT or LEAST <= figure.value <= MOST


def _clause(heard: Heard, words: Sequence[Lexeme], numbers: Sequence[Lexeme]) -> list[ReadingHeard]:
    name = heard.raw(words[0].start, words[-1].end)
    kind = next((PlaceKind(word.value) for word in words if word.kind == "kinds"), None)
    raw = heard.raw(words[0].start, numbers[-1].end)
    place = PlaceNamed(None, name, kind)
    return [
        ReadingHeard(place, None, figure.value, figure.qualifier, None, None, None, figure.resolution, raw)
        for figure in (number.value for number in numbers)
    ]


def kind_said(heard: Heard, lexicon: Lexicon, first: int = 0, end: int | None = None) -> PlaceKind | None:
    """The kind of place that words name ("hall floor", "joists under the kitchen"); None for an ordinary wall."""
    for start in range(first, len(heard.spoken) if end is None else end):
        found = longest(lexicon.terms, heard.said, start)
        if found is not None and found[1].kind == "kinds":
            return PlaceKind(str(found[1].value))
    return None
