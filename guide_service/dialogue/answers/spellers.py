"""How the words of a language are written in more than one way, as its words.toml says it in ``[spelling]``.

    marks      accents and tones tell words apart (Vietnamese): "cháy" (fire) is not "chảy" (to flow). A word typed
               without any is every word that it may be; one typed with some only those that have at least these.
    articles   what is taken off the front of a word, in the file and in what people type: "l'" of l'eau, the Arabic ال
    particles  the same, but only where the word is unknown with it and known without: the Arabic و (and), ب (in)
    alike      letters that are written one for the other, "x h", or left out, "c ", where people spell by ear; "^gu w"
               at the beginning of a word, "ing$ in" at its end. A word that is unknown as typed is the one that differs
               from it only so, or by a doubled letter, if it has at least ``alike_from`` letters
    written    what else people write for a word so short that it may be another one ("q" for "que"): it counts as the
               word in phrases of the file, and keeps its own sense elsewhere
    kept       words that are never taken apart, because what stands at their front tells ("and the mould?")

Number words are never found by taking a particle off: what might be another number is asked.
"""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from guide_service.dialogue.answers.spelling import fold, fold_with_marks, is_word, read_tokens

LEAST_LEFT = 3
"""Letters that must be left of a word when something without an apostrophe is taken off it."""
LEAST_ALIKE = 5
"""Letters of a word that may be spelled by ear, if the file does not say it; in shorter ones a letter makes another
word."""
BY_EAR = "="
"""Stands before what the spellings of a word have in common, so that it is no word that somebody could type."""
_FIRST, _LAST = "^", "$"
"""Stand at the ends of a word while it is spelled by ear."""
_DOUBLED = re.compile(r"([^\W\d_])\1+")
_TONES = frozenset("\u0300\u0301\u0309\u0303\u0323")
"""Grave, acute, hook, tilde, dot below: of a syllable, not of one letter ("hòa" and "hoà" are one word)."""
_BAR = "\u0335"


@dataclass(frozen=True, slots=True)
class Speller:
    marks: bool = False
    articles: tuple[str, ...] = ()
    particles: tuple[str, ...] = ()
    alike: tuple[tuple[str, str], ...] = ()
    """What is written, and what for it in the spelling that all its forms share."""
    alike_from: int = LEAST_ALIKE
    written: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Words to what else is written for them."""
    kept: frozenset[str] = frozenset()
    """Words that nothing is taken off."""
    known: frozenset[str] = field(default=frozenset(), repr=False)
    """Words of the lexicon as ``forms`` gives them."""
    loose: frozenset[str] = field(default=frozenset(), repr=False)
    """Known words that may be what is left when a particle is taken off: no numbers."""
    marked: Mapping[str, tuple[str, ...]] = field(default_factory=dict, repr=False)
    """Words without their marks to the words with them."""

    @property
    def plain(self) -> bool:
        """Words are what ``fold`` makes of them."""
        return not (self.marks or self.articles or self.particles or self.alike or self.written)

    def forms(self, text: str) -> list[tuple[str, ...]]:
        """The words of a phrase of the file, each in every way in which ``said`` may give it."""
        folded = fold(text)
        tokens = read_tokens(folded)
        typed = self.typed(text, folded, [(token.start, token.end) for token in tokens])
        pairs = zip(tokens, typed, strict=True)
        return [self._forms(word, token.text) for token, word in pairs if is_word(token.text)]

    def token_forms(self, text: str) -> list[tuple[str, ...]]:
        """The same with signs."""
        folded = fold(text)
        tokens = read_tokens(folded)
        typed = self.typed(text, folded, [(token.start, token.end) for token in tokens])
        return [self._forms(word, token.text) for token, word in zip(tokens, typed, strict=True)]

    def _forms(self, typed: str, plain: str) -> tuple[str, ...]:
        if not is_word(plain):
            return (plain,)
        if self.marks:
            return tuple(dict.fromkeys((typed.replace("'", ""), plain)))
        if plain in self.kept:
            return (plain,)
        word = self._without_article(typed).replace("'", "") or plain
        return tuple(dict.fromkeys((word, plain, self.by_ear(plain), *self.written.get(plain, ()))))

    def by_ear(self, plain: str) -> str:
        """What the spellings of a word have in common, marked; ``plain`` itself where the language has no such rule."""
        if not self.alike or len(plain) < self.alike_from:
            return plain
        return _by_ear(plain, self.alike)

    def typed(self, text: str, folded: str, spans: list[tuple[int, int]]) -> list[str]:
        """Each token as it was typed: with its marks where they tell, with its apostrophes."""
        if self.marks and not text.isascii():
            with_marks = fold_with_marks(text)
            found = [with_marks[token.start : token.end] for token in read_tokens(with_marks)]
            if len(found) == len(spans):
                return found
        return [folded[start:end] for start, end in spans]

    def said(self, typed: str, plain: str) -> str:
        """The word of the lexicon that ``typed`` is, or ``typed`` itself."""
        if typed == plain and (plain.isdecimal() or len(plain) < min(LEAST_LEFT, self.alike_from)):
            return plain  # nothing can be taken off it, and it is not spelled by ear
        if self.marks:
            return self._with_marks(typed.replace("'", ""), plain)
        if plain in self.kept:
            return plain
        word = self._without_article(typed).replace("'", "") or plain
        if word in self.known or plain in self.known:
            return word if word in self.known else plain
        heard = self.by_ear(plain)
        if heard in self.known:
            return heard
        return next((rest for rest in self._without_particles(word) if rest in self.loose), word)

    def _with_marks(self, typed: str, plain: str) -> str:
        if typed == plain or typed in self.known:
            return typed
        meant = [word for word in self.marked.get(plain, ()) if _may_be(typed, word)]
        if len(meant) == 1:
            return meant[0]
        return plain if meant else typed

    def _without_article(self, typed: str) -> str:
        for article in self.articles:
            least = 1 if article.endswith("'") else LEAST_LEFT
            if typed.startswith(article) and len(typed) - len(article) >= least:
                return typed[len(article) :]
        return typed

    def _without_particles(self, word: str) -> Iterable[str]:
        for particle in (*self.particles, *(a.rstrip("'") for a in self.articles)):
            if word.startswith(particle) and len(word) - len(particle) >= LEAST_LEFT:
                yield word[len(particle) :]


@lru_cache(maxsize=8192)
def _by_ear(word: str, alike: tuple[tuple[str, str], ...]) -> str:
    word = _FIRST + word + _LAST
    for written, heard in alike:
        word = word.replace(written, heard)
    return BY_EAR + _DOUBLED.sub(r"\1", word.strip(_FIRST + _LAST))


PLAIN = Speller()


def speller_of(table: Mapping[str, object]) -> Speller:
    """The rules of a file, without its words yet."""
    lists = {name: table.get(name, ()) for name in ("articles", "particles")}
    longest_first = {
        name: tuple(sorted((fold(str(word)) for word in words), key=len, reverse=True))
        for name, words in lists.items()
        if isinstance(words, list | tuple)
    }
    alike, written = table.get("alike", ()), table.get("written", {})
    pairs = [str(pair).partition(" ") for pair in alike] if isinstance(alike, list | tuple) else []
    others = written.items() if isinstance(written, dict) else ()
    return Speller(
        bool(table.get("marks", False)),
        longest_first["articles"],
        longest_first["particles"],
        tuple((letters, _anchored(letters, heard.strip())) for letters, _, heard in pairs),
        int(str(table.get("alike_from", LEAST_ALIKE))),
        {fold(word): tuple(map(fold, spellings)) for word, spellings in others},
        frozenset(fold(str(word)) for word in _words(table.get("kept"))),
    )


def _words(entry: object) -> Sequence[object]:
    return entry if isinstance(entry, list) else ()


def _anchored(letters: str, heard: str) -> str:
    """ "^gu w", "ing$ in": what marks the ends of a word stays there."""
    return _FIRST * letters.startswith(_FIRST) + heard + _LAST * letters.endswith(_LAST)


def by_plain(words: Iterable[str]) -> Mapping[str, tuple[str, ...]]:
    """Words with marks by what they are without them."""
    found: dict[str, list[str]] = defaultdict(list)
    for word in sorted(words):
        if fold(word) != word:
            found[fold(word)].append(word)
    return {plain: tuple(marked) for plain, marked in found.items()}


def _may_be(typed: str, word: str) -> bool:
    """Whether ``typed`` is ``word`` with marks left out, or its tone put on another vowel."""
    tones_typed, shapes_typed = _taken_apart(typed)
    tones, shapes = _taken_apart(word)
    if len(shapes) != len(shapes_typed) or not tones_typed <= tones:
        return False
    return all(mine <= theirs for mine, theirs in zip(shapes_typed, shapes, strict=True))


def _taken_apart(word: str) -> tuple[frozenset[str], list[frozenset[str]]]:
    """Tones of the word; for each letter the letter with its other marks."""
    tones: set[str] = set()
    letters: list[set[str]] = []
    for character in unicodedata.normalize("NFD", word.replace("đ", "d" + _BAR)):
        if character in _TONES:
            tones.add(character)
        elif letters and (unicodedata.combining(character) or character == _BAR):
            letters[-1].add(character)
        else:
            letters.append({character})
    return frozenset(tones), [frozenset(letter) for letter in letters]
