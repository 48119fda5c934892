"""In which language a text is written, where nobody said so: by its frequent words, or by the rooms that it names."""

from __future__ import annotations

from collections.abc import Mapping

from guide_service.dialogue.answers.hearing import Heard, hear
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.new_places import read_new_places
from guide_service.dialogue.answers.readings import lexemes_of
from guide_service.dialogue.events import (
    Event,
    EventName,
    Listening,
)

_WORDS_THAT_TELL = 3
"""Words that one language knows and no other in such number make it plain."""
_TELLTALE_WORDS = 2
"""Frequent words of another language that make it likely that the text is written in it."""
_NOBODY_TO_ASK = frozenset({EventName.STOP, EventName.AUTOMATIC, EventName.WRONG_NUMBER, EventName.JOIN})
"""Events of a first text after which nobody is asked for a language."""


def written_in(heard: Heard, events: list[Event], listening: Listening, lexicons: Mapping[str, Lexicon]) -> str | None:
    """The other language whose frequent words the text holds, when its own language made nothing of it; of a first
    text, whose language nobody knows, always.

    Words that its own language has too betray nothing: one of them at least must be foreign to it ("do" and "a" are
    Vietnamese as well, "la" and "un" French).
    """
    if not listening.first_contact and any(event.name is not EventName.UNCLEAR for event in events):
        return None
    lexicon = lexicons.get(listening.language) or next(iter(lexicons.values()))
    words = set(heard.words)
    ours = len(words & lexicon.common)
    foreign = words - lexicon.known
    counts = {
        code: len(words & other.common) * bool(foreign & other.common)
        for code, other in lexicons.items()
        if code != lexicon.language
    }
    most = max(counts.values(), default=0)
    best = [code for code, count in counts.items() if count == most]
    return best[0] if len(best) == 1 and most >= max(_TELLTALE_WORDS, ours + 1) else None


def other_than(language: str | None, lexicon: Lexicon) -> str | None:
    return None if language == lexicon.language else language


def known_best(text: str, lexicon: Lexicon, lexicons: Mapping[str, Lexicon]) -> str | None:
    """The language that knows most words of a first text, at least half of them, and more than any other."""
    counts = {}
    for code, other in lexicons.items():
        words = [word for word in hear(text, other).own if word[0].isalpha()]
        known = sum(word in other.speller.known or word in other.common for word in words)
        counts[code] = known if 2 * known >= len(words) else 0
    first, *rest = sorted(counts, key=lambda code: (-counts[code], code != lexicon.language))
    sure = counts[first] >= _WORDS_THAT_TELL and all(counts[code] < counts[first] for code in rest)
    return first if sure else None


def rooms_in(text: str, listening: Listening, lexicons: Mapping[str, Lexicon]) -> str | None:
    """The one language in which a first text is rooms with numbers ("cocina 145")."""
    heard = ((other, hear(text, other)) for other in lexicons.values() if other.language != listening.language)
    found = [o.language for o, said in heard if read_new_places(said, lexemes_of(said, listening, o), o) is not None]
    return found[0] if len(found) == 1 else None


def with_language(
    text: str, events: tuple[Event, ...], language: str, lexicons: Mapping[str, Lexicon], *, settled: bool = False
) -> tuple[Event, ...]:
    """``events`` of a first text, and that it is plainly written in ``language``: nobody is asked what is plain. The
    language comes last: what was said is answered before we say who we are.

    ``settled``: it would not be asked anyway (there is but one, or a cry for help has told it), so writing on in it
    wishes for nothing.
    """
    named = [event for event in events if event.name is EventName.LANGUAGE]
    if named:
        return (*(event for event in events if event.name is not EventName.LANGUAGE), *named)
    if settled or language not in lexicons or any(event.name in _NOBODY_TO_ASK for event in events):
        return events
    if _is_written_in(text, language, lexicons) or known_best(text, lexicons[language], lexicons) == language:
        return (*events, Event(EventName.LANGUAGE, language, text.strip()))
    return events


def _is_written_in(text: str, language: str, lexicons: Mapping[str, Lexicon]) -> bool:
    """Whether it holds more frequent words of ``language`` than of any other."""
    words = set(hear(text, lexicons[language]).words)
    counts = {code: len(words & lexicon.common) for code, lexicon in lexicons.items()}
    ours = counts.pop(language)
    return ours >= _TELLTALE_WORDS and ours > max(counts.values(), default=0)
