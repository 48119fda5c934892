"""From what is to be said to the pieces of a call: words for a synthesised voice, names of recordings for the others.

A piece is one message in one language. Its ``parts`` are what a recorded voice plays in its place, in the order in
which the language says them: the words of the message before, between and after its places, and what stands in the
places (``wording.recorded``).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from guide_service.dialogue.saying import Say
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.recorded import parts_of
from guide_service.wording.render import render
from guide_service.wording.sms import SmsText

NOT_SAID = frozenset({"heard.list", "house.named", "greeting.again"})
"""What a call leaves out: numbers are read back before they count, so nothing need be told of them again; a call is
about one house, and greets once."""
_LABEL = re.compile(r"\b([A-Z]{1,2})(\d{1,3})\b")
_THREE_OR_MORE = re.compile(r"\d{3,}(?:[-\u2010-\u2013]\d+)*")
_SPACED_CODE = re.compile(r"\b(\d{3}) (\d{3})\b")


@dataclass(frozen=True, slots=True)
class Piece:
    words: str
    language: str
    parts: tuple[str, ...] = ()
    safety: bool = False
    """Must be heard to its end: no key cuts it short."""


def piece(say: Say, language: str, catalogues: Catalogues) -> Piece:
    """One message as it is spoken. Raises what ``render`` raises."""
    language = say.language or language
    words = speakable(render(say, language, catalogues, spoken=True))
    message = catalogues.messages[say.id]
    return Piece(words, language, parts_of(say, language, catalogues), message.critical)


def pieces(says: Iterable[Say], language: str, catalogues: Catalogues) -> tuple[Piece, ...]:
    """All that is told and asked, without the offered answers."""
    return tuple(piece(say, language, catalogues) for say in says if say.id not in NOT_SAID and say.id != "offer")


def said_on_call(says: Iterable[Say], language: str, catalogues: Catalogues) -> tuple[SmsText, ...]:
    """What is kept of an answer that was spoken: its words, as one text that is sent to nobody."""
    said = [say for say in says if say.id not in NOT_SAID]
    words = "\n".join(render(say, language, catalogues, spoken=True) for say in said)
    return (SmsText(words, "UCS-2", 0, tuple(say.id for say in said)),) if words else ()


def speakable(words: str) -> str:
    """Words as a voice says them right: K1 as a letter and a number, phone numbers and codes digit by digit."""
    words = _LABEL.sub(lambda m: f"{' '.join(m[1])} {m[2]}", words)
    words = _SPACED_CODE.sub(lambda m: ", ".join(" ".join(group) for group in m.groups()), words)
    words = _THREE_OR_MORE.sub(_digit_by_digit, words)
    return " ".join(words.split())


def _digit_by_digit(found: re.Match[str]) -> str:
    """911 and 202-555-0123; a year stays one number."""
    digits = found[0]
    if len(digits) == 4 and digits[:2] in ("19", "20"):
        return digits
    return ", ".join(" ".join(group) for group in re.split(r"\D", digits))
