"""Readings of places that nobody has set up: "attic 14 13 12". The words are kept, and whether it is a place is asked.

Only where a clause is nothing but a few words and then numbers that wood can have; anything else is left alone, so that
"2 kids and 1 dog" or "flooded 3 feet" is never a reading. One number alone ("kitchen 145") is kept behind a room's name
only, and asked.
"""

from __future__ import annotations

from collections.abc import Sequence

from guide_service.dialogue.answers.figures import Figure
from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexemes import Lexeme
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.phrases import longest
from guide_service.dialogue.events import PlaceNamed, ReadingHeard, ReadingsHeard, Unclear, WhyUnclear
from guide_service.drying.terms import PlaceKind, Qualifier

MOST_WORDS = 3
MOST_NUMBERS = 3
LEAST, MOST = 5.0, 60.0
"""[% MC] What a pin meter shows on wet or dry wood (common practice); other numbers need a known place."""
_Clause = tuple[list[Lexeme], list[Lexeme]]
"""Words of a place and its numbers."""
_BETWEEN = frozenset({"comma", "break", "slash", "link", "colon", "and", "percent"})


def read_new_places(heard: Heard, lexemes: Sequence[Lexeme], lexicon: Lexicon) -> ReadingsHeard | None:
    """Items whose place has words and no label; None as soon as a clause is anything else."""
    clauses = _clauses(lexemes)
    if not clauses:
        return None
    doubtful = not all(_is_wood(number.value) for _, numbers in clauses for number in numbers)
    if doubtful or all(len(numbers) == 1 for _, numbers in clauses):  # "lost 30 percent" is no place
        return _of_rooms(heard, clauses, lexicon)
    items = [item for words, numbers in clauses for item in _items(heard, words, numbers)]
    return ReadingsHeard(tuple(items))


def _clauses(lexemes: Sequence[Lexeme]) -> list[_Clause]:
    """Words and the numbers behind them, by turns; nothing where the text is anything else."""
    found: list[_Clause] = []
    for lexeme in lexemes:
        if lexeme.kind in ("word", "kinds"):
            if not found or found[-1][1]:
                found.append(([], []))
            found[-1][0].append(lexeme)
        elif lexeme.kind == "figure" and found:
            found[-1][1].append(lexeme)
        elif lexeme.kind not in _BETWEEN:
            return []
        if found and (len(found[-1][0]) > MOST_WORDS or len(found[-1][1]) > MOST_NUMBERS):
            return []
    if found and not found[-1][1]:
        found.pop()
    return found


def _of_rooms(heard: Heard, clauses: Sequence[_Clause], lexicon: Lexicon) -> ReadingsHeard | None:
    """ "kitchen 145", "hall 14": one number is no sure reading, and behind a room's name it is kept and asked."""
    items: list[ReadingHeard] = []
    asked: list[Unclear] = []
    for words, numbers in clauses:
        named = any(heard.spoken[at] in lexicon.rooms for word in words for at in range(word.start, word.end))
        if not named or not all(_may_be_wood(number.value) for number in numbers):
            return None
        if len(numbers) > 1 and all(_is_wood(number.value) for number in numbers):
            items += _items(heard, words, numbers)
        else:
            asked.append(_asked(heard, words, numbers))
    return ReadingsHeard(tuple(items), tuple(asked))


def _asked(heard: Heard, words: Sequence[Lexeme], numbers: Sequence[Lexeme]) -> Unclear:
    raw, place = heard.raw(words[0].start, numbers[-1].end), _named(heard, words)
    if len(numbers) > 1:
        return Unclear(WhyUnclear.MANY_NUMBERS, raw, place)
    figure: Figure = numbers[0].value
    return Unclear(figure.why or WhyUnclear.NOT_A_READING, raw, place, suggestion=_likely(figure))


def _likely(figure: Figure) -> float | None:
    return figure.suggestion if figure.value is None else figure.value


def _may_be_wood(figure: Figure) -> bool:
    value = _likely(figure)
    return value is not None and LEAST <= value <= MOST


def _is_wood(figure: Figure) -> bool:
    if figure.value is None or figure.why is not None:
        return False
    return figure.qualifier is not Qualifier.EXACT or LEAST <= figure.value <= MOST


def _named(heard: Heard, words: Sequence[Lexeme]) -> PlaceNamed:
    kind = next((PlaceKind(word.value) for word in words if word.kind == "kinds"), None)
    return PlaceNamed(None, heard.raw(words[0].start, words[-1].end), kind)


def _items(heard: Heard, words: Sequence[Lexeme], numbers: Sequence[Lexeme]) -> tuple[ReadingHeard, ...]:
    place = _named(heard, words)
    raw = heard.raw(words[0].start, numbers[-1].end)
    return tuple(
        ReadingHeard(place, None, figure.value, figure.qualifier, None, None, None, figure.resolution, raw)
        for figure in (number.value for number in numbers)
    )


def kind_said(heard: Heard, lexicon: Lexicon, first: int = 0, end: int | None = None) -> PlaceKind | None:
    """The kind of place that words name ("hall floor", "joists under the kitchen"); None for an ordinary wall."""
    for start in range(first, len(heard.spoken) if end is None else end):
        found = longest(lexicon.terms, heard.said, start)
        if found is not None and found[1].kind == "kinds":
            return PlaceKind(str(found[1].value))
    return None
