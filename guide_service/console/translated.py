"""A text of ours in the language of the agent who reads along, where it was sent in another.

What was sent is the catalogue's texts with their places filled. Each text is found again in the body by its pattern in
that language, and the reader's text is filled with what stood in the places; words of the catalogue that stood there
are put into the reader's language too. What does not fit the catalogue any more is shown as it was sent.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache
from typing import Any

from guide_service.console.phrases import reader
from guide_service.wiring import Service
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.formats import direction
from guide_service.wording.gsm import gsm_safe
from guide_service.wording.template import pieces

FIRST_STRONG_ISOLATE, POP_DIRECTIONAL_ISOLATE = "\N{FIRST STRONG ISOLATE}", "\N{POP DIRECTIONAL ISOLATE}"


def in_agents_words(service: Service) -> Callable[[Any], str]:
    """Texts as the agent at the pages reads them: translated where they can be, else as they were sent."""
    language, catalogues = reader(service), service.catalogues
    return lambda message: translated(message, language, catalogues) or message.body or ""


def translated(message: Any, reader: str, catalogues: Catalogues) -> str | None:
    """None for what is in the reader's language already, what a person wrote, and what has no catalogue text.

    ``message``: a ``Message``, or a row with its language, direction, texts and body.
    """
    if message.language == reader or message.direction != "out" or not message.texts or not message.body:
        return None
    found, rest = [], message.body
    for id_ in message.texts:
        if id_ not in catalogues.messages:
            continue
        piece, rest = _first(rest, id_, message.language, reader, catalogues)
        found.append(piece)
    found += [rest.strip()] if rest.strip() else []
    return "\n".join(found) if found and "\n".join(found) != message.body else None


def _first(body: str, id_: str, language: str, reader: str, catalogues: Catalogues) -> tuple[str, str]:
    """The reader's words of the text with which ``body`` begins, and what follows it."""
    for template in catalogues.forms(language, id_):
        names, pattern = _pattern(template)
        match = pattern.match(body)
        if match:
            values = {name: _stood(match[f"n{n}"], language, reader, catalogues) for n, name in enumerate(names)}
            return _filled(catalogues.forms(reader, id_)[-1], values), body[match.end() :].lstrip("\n")
    line, _, rest = body.partition("\n")
    return line, rest


@lru_cache(maxsize=4096)
def _pattern(template: str) -> tuple[tuple[str, ...], re.Pattern[str]]:
    """Its places as groups; it ends where the next text begins, at the end of a line."""
    names: list[str] = []
    parts: list[str] = []
    for words, name in pieces(template, True):
        parts.append(re.escape(words))
        if name is not None:
            parts.append(f"(?P<n{len(names)}>[^\\n]{{0,300}}?)")
            names.append(name)
    return tuple(names), re.compile("".join(parts) + r"(?=\n|$)")


def _filled(template: str, values: dict[str, str]) -> str:
    return "".join(words + (values.get(name, "") if name else "") for words, name in pieces(template, False))


def _stood(value: str, language: str, reader: str, catalogues: Catalogues) -> str:
    """What stood in a place, kept together where it runs the other way than the reader's words."""
    word = _word(value, language, reader, catalogues)
    as_it_stood = word == value and direction(language) != direction(reader)
    return f"{FIRST_STRONG_ISOLATE}{word}{POP_DIRECTIONAL_ISOLATE}" if as_it_stood else word


def _word(value: str, language: str, reader: str, catalogues: Catalogues) -> str:
    """Words of the catalogue in the reader's language, a number with its point; anything else as it stood."""
    if re.fullmatch(r"\d+,\d+", value):
        return value.replace(",", ".")
    return _known_words(id(catalogues), language, reader, catalogues).get(value, value)


_WORDS: dict[tuple[int, str, str], dict[str, str]] = {}


def _known_words(key: int, language: str, reader: str, catalogues: Catalogues) -> dict[str, str]:
    """Texts without places, as they are sent in that language, with the reader's words."""
    known = _WORDS.get((key, language, reader))
    if known is None:
        plain = [each for each in catalogues.messages if "%(" not in catalogues.messages[each].text]
        known = _WORDS[key, language, reader] = {
            gsm_safe(catalogues.forms(language, each)[0]): catalogues.forms(reader, each)[0] for each in plain
        }
    return known
