"""The default alphabet of text messages, and how typography is made to fit it.

Source of the alphabet: 3GPP TS 23.038 (ETSI TS 123 038), table 6.2.1 (default) and 6.2.1.1 (extension, each reached by
an escape and so counted twice). National shift tables are left out: carriers of North America do not use them.

One character outside it turns a text of 160 characters per segment into one of 70, so typography that says nothing more
(curly quotes, dashes, no-break spaces) is written plainly. Letters are never replaced: "á" does not fit, and stays.
"""

from __future__ import annotations

import unicodedata

BASIC = (
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞ\x1bÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
"""Position in this string = code in the table; 27 is the escape to the extension table, never a character of a text."""
EXTENSION = "\f^{}\\[~]|€"

BASIC_SET = frozenset(BASIC) - {"\x1b"}
EXTENSION_SET = frozenset(EXTENSION)
GSM_SET = BASIC_SET | EXTENSION_SET

_SPACES = "\t\u00a0\u1680" + "".join(map(chr, range(0x2000, 0x200B))) + "\u202f\u205f"
_DROPPED = "\u00ad\u200b\u2060\ufeff"
_SINGLE_QUOTES = "\u2018\u2019\u201a\u201b\u2032\u2039\u203a\u02bc\u00b4\u0060"
_DOUBLE_QUOTES = "\u201c\u201d\u201e\u201f\u2033\u00ab\u00bb"
_DASHES = "\u2010\u2011\u2012\u2013\u2014\u2015\u2212"
_PLAIN: dict[int, str | None] = {
    **dict.fromkeys(map(ord, _SPACES), " "),
    **dict.fromkeys(map(ord, _DROPPED)),
    **dict.fromkeys(map(ord, _SINGLE_QUOTES), "'"),
    **dict.fromkeys(map(ord, _DOUBLE_QUOTES), '"'),
    **dict.fromkeys(map(ord, _DASHES), "-"),
    ord("\u2026"): "...",
    ord("\u2022"): "-",
    ord("\u00b7"): "-",
    ord("\u00bd"): "1/2",
    ord("\u00bc"): "1/4",
    ord("\u00be"): "3/4",
    ord("\u00d7"): "x",
    ord("\u2044"): "/",
}

_BREAKS = frozenset("\t\n\r\f\v\x85\u2028\u2029")
BIDI_CONTROLS = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Unicode Standard Annex 9: a stray one can show a number backwards."""


def gsm_safe(text: str) -> str:
    """``text`` with typography outside the default alphabet written plainly; every letter stays as it is."""
    return text.translate(_PLAIN)


def without_controls(words: str) -> str:
    """A person's own words as they are, less what cannot be seen or sent: line breaks become a space, controls go."""
    if words.isprintable():
        return words
    return "".join(" " if c in _BREAKS else c for c in words if c in _BREAKS or not _cannot_be_sent(c))


def _cannot_be_sent(character: str) -> bool:
    """Controls, and what neither UTF-8 nor XML can carry (lone surrogates, U+FFFE, U+FFFF)."""
    if character in BIDI_CONTROLS or character in "\ufffe\uffff":
        return True
    return unicodedata.category(character) in ("Cc", "Cs")
