"""From a text as it was typed to plain tokens: case, accents, digit shapes and odd characters no longer matter.

Rules of this file: a vulgar fraction becomes " 1/2" before Unicode normalisation (NFKC would turn 14½ into 141/2);
every script's digits become ASCII digits; marks are dropped (veintidós = veintidos, mười = muoi), and apostrophes
(don't = dont); a line break or a full stop ends a clause and stays as the token ``.``; nothing here knows a language.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

LONGEST_TEXT = 2000
"""Characters looked at. The carrier delivers at most 1,600."""

BREAK = "."
"""The token that ends a clause."""

_VULGAR = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3", "⅛": " 1/8"}
_SPECIAL = {
    **{ord(k): v for k, v in _VULGAR.items()},
    **{ord(c): "." for c in "٫。"},
    **{ord(c): "," for c in "،、，"},
    **{ord(c): "'" for c in "’‘ʼ`´"},
    **{ord(c): '"' for c in "“”„«»「」『』《》"},
    **{ord(c): "-" for c in "‐‑‒–—−"},
    **{ord(c): " " for c in "\t\x0b\x0c\r\u00a0\u202f\u2009"},
    ord("٬"): "",
    ord("\n"): ";",
    ord("\u2028"): ";",
    ord("đ"): "d",
    ord("Đ"): "d",
    ord("ı"): "i",
    ord("œ"): "oe",
    ord("æ"): "ae",
    ord("ß"): "ss",
    # Arabic: letters that are written one for the other, and the stretching stroke
    **{ord(c): "ا" for c in "أإآٱ"},
    ord("ى"): "ي",
    ord("ة"): "ه",
    ord("ـ"): "",
    ord("ی"): "ي",
    ord("ک"): "ك",
    ord("٪"): "%",
    ord("؟"): "?",
    ord("؛"): ";",
}
_ASCII_SPECIAL = {9: " ", 10: ";", 11: " ", 12: " ", 13: " "}
_DROPPED = frozenset({"Mn", "Me", "Sk", "Cc", "Cf", "Co", "Cs", "Cn"})
_HAN = "\u3400-\u9fff\uf900-\ufaff"
_TOKEN = re.compile(
    rf"\d+(?:[.,]\d+)*|[{_HAN}]|[^\W\d_{_HAN}]+(?:'[^\W\d_{_HAN}]+)*|\.+|[^\s\w]|_",
)


class Token(NamedTuple):
    text: str
    start: int
    end: int
    glued: bool
    """Nothing stands between this token and the one before it."""


def fold(text: str) -> str:
    """``text`` in lower case without marks, with ASCII digits; of the same length when it is ASCII already."""
    if text.isascii():
        lowered = text.lower()
        return lowered if lowered.isprintable() else _drop_controls(lowered.translate(_ASCII_SPECIAL))
    return _fold_character_by_character(text)


def _drop_controls(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)


def _fold_character_by_character(text: str) -> str:
    plain = unicodedata.normalize("NFKC", text.translate(_SPECIAL)).translate(_SPECIAL)
    return "".join(_folded(c) for c in unicodedata.normalize("NFD", plain.casefold()))


_SPECIAL_MARKED = {code: plain for code, plain in _SPECIAL.items() if chr(code) not in "đĐ"}


def fold_with_marks(text: str) -> str:
    """``fold`` for languages whose marks tell words apart: every letter keeps them, composed (NFC)."""
    plain = unicodedata.normalize("NFKC", text.translate(_SPECIAL_MARKED)).translate(_SPECIAL_MARKED)
    return "".join(_unmarked(c) for c in unicodedata.normalize("NFC", plain.casefold()))


@lru_cache(maxsize=4096)
def _unmarked(character: str) -> str:
    return character if character.isalpha() else _folded(character)


@lru_cache(maxsize=4096)
def _folded(character: str) -> str:
    """One character of a decomposed text, without its mark, its digit as ASCII."""
    if unicodedata.category(character) in _DROPPED:
        return ""
    digit = unicodedata.digit(character, None)
    return character.translate(_SPECIAL) if digit is None else str(digit)


def read_tokens(folded: str) -> list[Token]:
    """The tokens of a folded text: numbers, words (one per Han character), signs; ``! ? ;`` and dots become ``.``."""
    tokens = []
    last = -1
    for found in _TOKEN.finditer(folded):
        start, end = found.span()
        text = found.group()
        if text[0] in ".!?;":
            text = BREAK
        elif "'" in text:
            text = text.replace("'", "") or "'"
        tokens.append(Token(text, start, end, start == last))
        last = end
    return tokens


def plain_words(text: str) -> tuple[str, ...]:
    """The words and numbers of a text, as phrases see them: no signs."""
    return tuple(t.text for t in read_tokens(fold(text[:LONGEST_TEXT])) if is_word(t.text))


def stands_in(phrase: tuple[str, ...], words: tuple[str, ...]) -> bool:
    """Whether ``words`` hold the phrase, one word behind the other."""
    return where_stands(phrase, words) is not None


def where_stands(phrase: tuple[str, ...], words: tuple[str, ...]) -> int | None:
    """At which of ``words`` the phrase begins, where they hold it."""
    ways = (at for at in range(len(words)) if words[at : at + len(phrase)] == phrase)
    return next(ways, None) if phrase else None


def is_han(word: str) -> bool:
    """One character of a script that is written without blanks: about half a word."""
    return len(word) == 1 and ("\u3400" <= word <= "\u9fff" or "\uf900" <= word <= "\ufaff")


def size_of(words: Sequence[str]) -> int:
    """How many words a text has, two Han characters for one word."""
    han = sum(map(is_han, words))
    return len(words) - han + (han + 1) // 2


def is_telling(text: str | None) -> bool:
    """Two words with letters and more: neither a key nor the one word of a command or an offered answer."""
    return size_of([word for word in plain_words(text or "") if word[0].isalpha()]) > 1


def is_word(token: str) -> bool:
    """Whether a token takes part in phrases: a word, a number or a picture sign, not punctuation."""
    return token[0].isalnum() or ord(token[0]) >= 0x2190


def tidy(text: str, longest: int) -> str:
    """A person's own words without control characters and doubled blanks, cut to ``longest`` characters."""
    kept = "".join(c if unicodedata.category(c)[0] != "C" else (" " if c.isspace() else "") for c in text)
    words = " ".join(kept.split())
    if len(words) <= longest:
        return words
    cut = words[: longest + 1].rsplit(" ", 1)[0]
    return cut[:longest]
