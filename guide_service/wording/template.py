"""The form of a text: words and named places, ``%(name)s``; a per cent sign is written ``%%``.

Only this one kind of placeholder is used, because it is the only kind that gettext tools check. Rendering is our own
rather than Python's ``%`` operator: a stray per cent sign in a translation must never be an error on the way to a
person.
"""

from __future__ import annotations

import re
from functools import lru_cache

from guide_service.wording.gsm import gsm_safe

_PART = re.compile(r"%(?:(?P<percent>%)|\((?P<name>[a-z][a-z0-9_]*)\)s)")
_BRACES = re.compile(r"\{[^{}]*\}")

Pieces = tuple[tuple[str, str | None], ...]
"""Words, each followed by the name of the argument that stands behind them (the last by none)."""


@lru_cache(maxsize=16384)
def pieces(template: str, plain: bool) -> Pieces:
    """``template`` taken apart once; with ``plain`` its own words are made to fit the alphabet of text messages."""
    found: list[tuple[str, str | None]] = []
    words, start = "", 0
    for part in _PART.finditer(template):
        words += template[start : part.start()] + (part["percent"] or "")
        start = part.end()
        if part["name"]:
            found.append((_worded(words, plain), part["name"]))
            words = ""
    found.append((_worded(words + template[start:], plain), None))
    return tuple(found)


def _worded(words: str, plain: bool) -> str:
    return gsm_safe(words) if plain else words


@lru_cache(maxsize=16384)
def placeholders(template: str) -> frozenset[str]:
    """The names that ``template`` needs."""
    return frozenset(part["name"] for part in _PART.finditer(template) if part["name"])


def filled(template: str, values: dict[str, str]) -> str:
    """``template`` with each place filled from ``values``; a name that is not there stays empty. For checks only."""
    return "".join(words + (values.get(name, "") if name else "") for words, name in pieces(template, True))


def malformed(template: str) -> tuple[str, ...]:
    """What looks like a place but is none: a lone ``%`` and anything in braces."""
    rest = _PART.sub("", template)
    lone = (rest[i : i + 12] for i, c in enumerate(rest) if c == "%")
    return (*lone, *_BRACES.findall(template))
