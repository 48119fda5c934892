"""One text, cut into tokens, slips mended, every phrase of the lexicon found in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from guide_service.dialogue.answers.lexicon import Lexicon, Sequences
from guide_service.dialogue.answers.phrases import Match, Meaning, find_phrases, longest
from guide_service.dialogue.answers.spellers import Speller
from guide_service.dialogue.answers.spelling import (
    BREAK,
    LONGEST_TEXT,
    Token,
    fold,
    is_word,
    read_tokens,
    size_of,
)

LONGEST_DENIAL = 4
"""Words of a denial or of a filler behind it."""
FARTHEST_TO_COME = 4
"""Words between "do I", "won't" and the step that they speak of."""


@dataclass(slots=True)
class Heard:
    """A text as it can be looked up: tokens, their words after mending, and what phrases are in it."""

    text: str
    folded: str
    tokens: list[Token]
    spoken: list[str]
    """Per token: its word, slips mended."""
    said: list[str]
    """Per token: the word of the lexicon that it is, as the language spells it."""
    words: list[str]
    """The words and clause ends alone, as phrases see them."""
    at: list[int]
    """Per word: its token."""
    matches: list[Match]
    vetoes: list[Match]
    """Those of ``matches`` that say what is not meant."""
    core: list[int]
    """Positions in ``words`` that say something (neither padding nor clause end)."""
    padded: frozenset[int]
    """Positions in ``words`` of politeness and filler."""
    asks_last: frozenset[str] = frozenset()
    """Words of the language that make a question of the clause that they end (Chinese 吗)."""

    @property
    def own(self) -> list[str]:
        """Per word: the word of the lexicon that it is."""
        return [self.said[i] for i in self.at]

    @property
    def size(self) -> int:
        return size_of(self.words)

    @property
    def asks(self) -> bool:
        """Whether a question mark of any script stands in it, or a clause ends with a word that asks."""
        ends = (i for i, word in enumerate(self.words) if i and word in self.asks_last)
        return "?" in self.folded or "¿" in self.folded or any(self._clause(i, i)[1] == i + 1 for i in ends)

    def is_asked(self, start: int, end: int) -> bool:
        """Whether the words from ``start`` to before ``end`` are asked and not told: their clause is a question, and
        not only about what comes next ("done, what now?")."""
        first, last = self._clause(start, end)
        opened = any(token.text == "¿" for token in self.tokens[self._token_before(first) : self.at[start]])
        closed = self._marks_after(last)
        asking = last > end and self.words[last - 1] in self.asks_last
        if not opened and not asking and "?" not in closed:
            return False
        return not any(m.meaning.kind == "help" and first <= m.start and m.end <= last for m in self.matches)

    def _clause(self, start: int, end: int) -> tuple[int, int]:
        """The words of the clause that holds ``start`` to ``end``: its first one, and the one behind its last."""
        while start > 0 and self.words[start - 1] != BREAK:
            start -= 1
        while end < len(self.words) and self.words[end] != BREAK:
            end += 1
        return start, end

    def _token_before(self, word: int) -> int:
        """The token behind the clause end before ``word``: signs that open a clause are no words."""
        return self.at[word - 1] + 1 if word > 0 else 0

    def _marks_after(self, word: int) -> str:
        """The signs that end a clause, one behind the other ("!?")."""
        marks = ""
        while word < len(self.words) and self.words[word] == BREAK:
            marks += self.folded[self.tokens[self.at[word]].start]
            word += 1
        return marks

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
    said = _said(text, folded, tokens, spoken, lexicon.speller)
    at = [i for i, word in enumerate(spoken) if word == BREAK or is_word(word)]
    words = [spoken[i] for i in at]
    padded = _padded([said[i] for i in at], lexicon)
    core = [i for i, word in enumerate(words) if word != BREAK and i not in padded]
    matches = _matches(text, folded, tokens, spoken, at, lexicon)
    vetoes = [match for match in matches if match.meaning.veto]
    return Heard(text, folded, tokens, spoken, said, words, at, matches, vetoes, core, padded, lexicon.asks_last)


def _said(text: str, folded: str, tokens: list[Token], spoken: list[str], speller: Speller) -> list[str]:
    if speller.plain:
        return spoken
    typed = speller.typed(text, folded, [(token.start, token.end) for token in tokens])
    return [
        speller.said(word if token.text == mended else mended, mended) if is_word(mended) else mended
        for word, token, mended in zip(typed, tokens, spoken, strict=True)
    ]


def _matches(
    text: str, folded: str, tokens: list[Token], spoken: list[str], at: list[int], lexicon: Lexicon
) -> list[Match]:
    """Every phrase in the text, each language's in its own spelling, in order of its first word."""
    found: list[Match] = []
    for ear in lexicon.ears:
        said = _said(text, folded, tokens, spoken, ear.speller)
        found += find_phrases(ear.phrases, [said[i] for i in at])
    return found if len(lexicon.ears) == 1 else sorted(found, key=lambda match: match.start)


def _padded(words: list[str], lexicon: Lexicon) -> frozenset[int]:
    found: set[int] = set()
    for start in range(len(words)):
        padding = longest(lexicon.padding, words, start)
        if padding is not None:
            found.update(range(start, padding[0]))
    return frozenset(found)


def _mended(word: str, lexicon: Lexicon) -> str:
    """``word``, or the word of the file that is another spelling of it, or that it is one slip away from."""
    if word in lexicon.same:
        return lexicon.same[word]
    meant = lexicon.mending.meant(word)
    if meant == word:
        return word
    by_ear = lexicon.speller.by_ear
    is_another = by_ear(word) in lexicon.speller.known and by_ear(word) != by_ear(meant)
    return word if is_another else meant


def vetoed(match: Match, vetoes: Iterable[Match]) -> bool:
    """Whether a stretch that overlaps says that ``match`` is not meant.

    Of danger and mould only one that is at least as long: "we are trapped water is rising" holds "trapped water" and is
    a cry for help, "green on the bottom, is that mold" tells more than it asks.
    """
    return any(
        veto.start < match.end
        and match.start < veto.end
        and (match.meaning.kind not in ("danger", "mould") or veto.end - veto.start >= match.end - match.start)
        and _covers(veto.meaning, match.meaning)
        for veto in vetoes
    )


def _covers(veto: Meaning, meaning: Meaning) -> bool:
    return veto.kind == meaning.kind.removeprefix("first_") and (
        veto.kind == "danger" or veto.value in ("", meaning.value)
    )


def meant(heard: Heard, *kinds: str) -> list[Match]:
    """What is said of these kinds, as far as it applies and nothing says that it is not meant."""
    found = [m for m in heard.matches if m.meaning.kind in kinds and not m.meaning.veto and heard.applies(m)]
    return [match for match in found if not vetoed(match, heard.vetoes)]


def done_in_part(heard: Heard) -> bool:
    """ "Almost", "not the bedrooms yet", "still 2 feet down there": a step that is under way, and not done."""
    return bool(_said_of_a_step(heard, "part"))


def is_to_come(heard: Heard, start: int, end: int) -> bool:
    """Whether words before ``start``, in its clause and near it, ask, forbid or plan what stands there ("do I cut",
    "won't let me cut"): nothing of it is done."""
    return any(
        match.start < start
        and match.end <= end
        and start - match.end <= FARTHEST_TO_COME
        and BREAK not in heard.words[match.start : start]
        for match in _said_of_a_step(heard, "to_do")
    )


def _said_of_a_step(heard: Heard, what: str) -> list[Match]:
    return [match for match in meant(heard, "step") if match.meaning.value == what]


def is_denied(heard: Heard, match: Match, lexicon: Lexicon) -> bool:
    """Whether a denial stands before ``match``, with fillers between or not ("dont see any ..."), or right after it."""
    words, end = heard.own, match.start
    after = (tuple(words[match.end : match.end + n]) for n in range(1, LONGEST_DENIAL + 1))
    if lexicon.denials_after and any(one in lexicon.denials_after for one in after):
        return True
    while (filler := _ending_at(words, end, lexicon.negation_fillers)) > 0:
        if _ending_at(words, end, lexicon.negators) > filler:
            return True
        end -= filler
    return _ending_at(words, end, lexicon.negators) > 0


def _ending_at(words: list[str], end: int, sequences: Sequences) -> int:
    """Words of the longest of ``sequences`` that ends before position ``end``."""
    longest_first = range(min(LONGEST_DENIAL, end), 0, -1)
    return next((n for n in longest_first if tuple(words[end - n : end]) in sequences), 0)
