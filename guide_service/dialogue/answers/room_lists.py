"""Several rooms in one answer: "kitchen and the hall and both bedrms" names three, the last of which is two.

A list only where every part of the answer holds a word for a room; anything else is one name in the person's words
("washer and dryer room").
"""

from __future__ import annotations

from dataclasses import dataclass

from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.new_places import kind_said
from guide_service.dialogue.answers.phrases import longest
from guide_service.dialogue.answers.questions import LONGEST_NAME
from guide_service.dialogue.answers.spelling import BREAK, is_word, tidy
from guide_service.dialogue.events import RoomNamed

MOST_WORDS = 5
"""Words of one room ("the back bedroom by the stairs"); more is no list of rooms."""
_SIGNS = frozenset({",", "&", "+", "/", ";", BREAK})
BOTH = 2


@dataclass(frozen=True, slots=True)
class _Part:
    """Tokens of one room: first, and the one behind the last."""

    start: int
    end: int


def rooms_named(heard: Heard, lexicon: Lexicon) -> tuple[RoomNamed, ...]:
    """The rooms of a list, in the order said; nothing where the text is one name."""
    parts = [part for whole in _split(heard, lexicon) for part in _at_articles(heard, whole, lexicon)]
    if not all(_is_room(heard, part, lexicon) for part in parts):
        return ()
    rooms = tuple(_room(heard, part, lexicon) for part in parts)
    return rooms if len(rooms) > 1 or any(room.count > 1 for room in rooms) else ()


def _split(heard: Heard, lexicon: Lexicon) -> list[_Part]:
    parts, start = [], 0
    for i, word in enumerate(heard.spoken):
        if word in _SIGNS or _joins(heard, i, lexicon):
            parts.append(_Part(start, i))
            start = i + 1
    parts.append(_Part(start, len(heard.spoken)))
    return [part for part in parts if any(is_word(word) for word in heard.spoken[part.start : part.end])]


def _joins(heard: Heard, i: int, lexicon: Lexicon) -> bool:
    found = longest(lexicon.terms, heard.said, i)
    return heard.spoken[i] in lexicon.room_joins or (found is not None and found[1].kind == "and" and found[0] == i + 1)


def _at_articles(heard: Heard, part: _Part, lexicon: Lexicon) -> list[_Part]:
    """ "cocina el pasillo": a room and then an article begin another room."""
    cuts = [
        i
        for i in range(part.start + 1, part.end)
        if heard.spoken[i] in lexicon.room_articles and heard.spoken[i - 1] in lexicon.rooms
    ]
    return [_Part(start, end) for start, end in zip([part.start, *cuts], [*cuts, part.end], strict=True)]


def _is_room(heard: Heard, part: _Part, lexicon: Lexicon) -> bool:
    words = heard.spoken[part.start : part.end]
    return len(words) <= MOST_WORDS and any(word in lexicon.rooms for word in words)


def _room(heard: Heard, part: _Part, lexicon: Lexicon) -> RoomNamed:
    start = part.start
    while start < part.end - 1 and (heard.spoken[start] in lexicon.room_articles or not is_word(heard.spoken[start])):
        start += 1
    words = tidy(heard.raw(start, part.end).strip(" .,:;!\"'"), LONGEST_NAME)
    return RoomNamed(words, kind_said(heard, lexicon, start, part.end), _count(heard, part, lexicon))


def _count(heard: Heard, part: _Part, lexicon: Lexicon) -> int:
    """ "both bedrooms", "3 bedrooms": how many; "bedroom 2" is the name of one."""
    first_room = next(i for i in range(part.start, part.end) if heard.spoken[i] in lexicon.rooms)
    for i in range(part.start, first_room):
        if heard.spoken[i].isdigit():
            return max(1, min(int(heard.spoken[i]), 9))
        found = longest(lexicon.terms, heard.said, i)
        if found is not None and found[1].kind == "number" and float(found[1].value) > 1:
            return min(int(float(found[1].value)), 9)
        if heard.spoken[i] in lexicon.both:
            return BOTH
    return 1
