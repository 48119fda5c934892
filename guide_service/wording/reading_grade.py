"""The school grade at which a text can be read.

Flesch-Kincaid grade level: 0.39 words/sentences + 11.8 syllables/words - 15.59 (Kincaid, Fishburne, Rogers and Chissom
1975, *Derivation of new readability formulas for Navy enlisted personnel*, Research Branch Report 8-75). As Flesch's
counting rules have it (from memory), a sentence is whatever is marked off by a full stop, colon, semicolon, dash,
question mark or exclamation mark, and here by a new line; contractions and hyphenated words are one word. A figure or
label ("22", "K2") is a word of one syllable, the common practice of programs that compute the formula (Flesch counted
figures as they are read out); telephone numbers are left out.

The formula means little for a word or two ("Upper Larkwater" would be grade 15). Texts of fewer than six words are
therefore graded together, as one text.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from guide_service.wording.longest import typical
from guide_service.wording.messages import Message
from guide_service.wording.syllables import syllables
from guide_service.wording.template import filled, placeholders

HARDEST = 6.0
HARDEST_CRITICAL = 5.0
FEWEST_WORDS = 6
SHORT_TEXTS = "short texts together"

_SENTENCE_END = re.compile(r"[.!?:;]+[\"')\]]*(?=\s|$)|\s[-\u2013\u2014]+\s|\n")
_WORD = re.compile(r"[A-Za-z0-9][^\s]*")
_LETTERS = re.compile(r"[A-Za-z]+(?:['\u2019][A-Za-z]+)*")
_LONGEST_FIGURE = 4


@dataclass(frozen=True, slots=True)
class TooHard:
    where: str
    """Message id (with ``#spoken`` or ``#plural``), or ``SHORT_TEXTS``."""
    grade: float
    limit: float
    place: str
    """File and line; of the short texts the first one."""


def grade(text: str) -> float:
    """Reading grade of an English text whose placeholders are filled with typical short values first."""
    read = filled(text, {name: typical(name) for name in placeholders(text)})
    sentences = [words for part in _SENTENCE_END.split(read) if (words := _words(part))]
    words = [word for sentence in sentences for word in sentence]
    if not words:
        return 0.0
    per_word = sum(map(_read_out, words)) / len(words)
    return 0.39 * len(words) / len(sentences) + 11.8 * per_word - 15.59


def too_hard(messages: Iterable[Message]) -> tuple[TooHard, ...]:
    """The texts that are harder to read than their kind may be, each with its grade and limit."""
    short: dict[float, list[tuple[str, str]]] = defaultdict(list)
    found: list[TooHard] = []
    for message in messages:
        limit = HARDEST_CRITICAL if message.critical else HARDEST
        for where, text in _texts(message):
            if word_count(text) < FEWEST_WORDS:
                short[limit].append((message.place, text))
            elif grade(text) > limit:
                found.append(TooHard(where, grade(text), limit, message.place))
    for limit, texts in short.items():
        if (together := grade("\n".join(text for _, text in texts))) > limit:
            found.append(TooHard(SHORT_TEXTS, together, limit, texts[0][0]))
    return tuple(found)


def word_count(text: str) -> int:
    return len(_words(filled(text, {name: typical(name) for name in placeholders(text)})))


def _texts(message: Message) -> Iterable[tuple[str, str]]:
    yield message.id, message.text
    if message.plural is not None:
        yield f"{message.id}#plural", message.plural
    if message.spoken is not None:
        yield f"{message.id}#spoken", message.spoken


def _words(text: str) -> list[str]:
    return [word for word in _WORD.findall(text) if sum(c.isdigit() for c in word) <= _LONGEST_FIGURE]


def _read_out(word: str) -> int:
    """Syllables of one word as written between spaces; a figure or label (``22``, ``K2``) is one."""
    parts = [part for part in _LETTERS.findall(word) if not any(c.isdigit() for c in word)]
    return sum(map(syllables, parts)) or 1
