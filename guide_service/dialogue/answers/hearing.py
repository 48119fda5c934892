"""One text, cut into tokens, slips mended, every phrase of the lexicon found in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.phrases import Match, Meaning, find_phrases
from guide_service.dialogue.answers.slips import SHORTEST_CORRECTED, mended
from guide_service.dialogue.answers.spelling import (
    BREAK,
    LONGEST_TEXT,
    Token,
    fold,
    is_word,
    read_tokens,
)


@dataclass(slots=True)
class Heard:
    """A text as it can be looked up: tokens, their words after mending, and what phrases are in it."""

    text: str
    folded: str
    tokens: list[Token]
    spoken: list[str]
    """Per token: its word, slips mended."""
    words: list[str]
    """The words and clause ends alone, as phrases see them."""
    at: list[int]
    """Per word: its token."""
    matches: list[Match]
    core: list[int]
    """Positions in ``words`` that say something (neither padding nor clause end)."""
    padding: frozenset[str]

    def raw(self, first: int, last: int) -> str:
        """What stood from token ``first`` up to before token ``last``, as it was typed where that can be told."""
        if not self.tokens or first >= last:
            return ""
        source = self.text if len(self.text) == len(self.folded) else self.folded
        return source[self.tokens[first].start : self.tokens[last - 1].end]

    def raw_of(self, match: Match) -> str:
        return self.raw(self.at[match.start], self.at[match.end - 1] + 1)

    def is_whole(self, match: Match) -> bool:
        """Whether nothing else is said than what ``match`` covers."""
        return all(match.start <= position < match.end for position in self.core)

    def applies(self, match: Match) -> bool:
        return not match.meaning.whole or self.is_whole(match)


def hear(text: str, lexicon: Lexicon) -> Heard:
    """Read ``text`` with the words of ``lexicon``."""
    text = text[:LONGEST_TEXT]
    folded = fold(text)
    tokens = read_tokens(folded)
    spoken = [_mended(token.text, lexicon) for token in tokens]
    at = [i for i, word in enumerate(spoken) if word == BREAK or is_word(word)]
    words = [spoken[i] for i in at]
    core = [i for i, word in enumerate(words) if word != BREAK and word not in lexicon.padding]
    matches = find_phrases(lexicon.phrases, words)
    return Heard(text, folded, tokens, spoken, words, at, matches, core, lexicon.padding)


def _mended(word: str, lexicon: Lexicon) -> str:
    """``word``, or the one word of the file's list that is one slip away from it."""
    if len(word) < SHORTEST_CORRECTED - 1 or word in lexicon.known:
        return word
    return mended(word, lexicon.slips) or word


def vetoed(match: Match, vetoes: Iterable[Match]) -> bool:
    """Whether a stretch that overlaps says that ``match`` is not meant.

    Of danger only one that is at least as long: "we are trapped water is rising" holds "trapped water" and is a cry
    for help.
    """
    return any(
        veto.start < match.end
        and match.start < veto.end
        and (match.meaning.kind != "danger" or veto.end - veto.start >= match.end - match.start)
        and _covers(veto.meaning, match.meaning)
        for veto in vetoes
    )


def _covers(veto: Meaning, meaning: Meaning) -> bool:
    return veto.kind == meaning.kind.removeprefix("first_") and (
        veto.kind == "danger" or veto.value in ("", meaning.value)
    )


def is_denied(heard: Heard, match: Match, lexicon: Lexicon) -> bool:
    """Whether a word of denial stands before ``match``, directly or with fillers between ("dont see any ...")."""
    position = match.start - 1
    while position >= 0 and heard.words[position] in lexicon.negation_fillers:
        position -= 1
    return position >= 0 and heard.words[position] in lexicon.negators
