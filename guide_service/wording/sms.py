"""What is said, packed into text messages.

Neighbours share a message while it stays within three segments, because every further message may arrive before the one
it follows: carriers do not promise the order. A person reads one text that stands alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import accumulate

from guide_service.dialogue.saying import Say
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.render import render
from guide_service.wording.segments import Encoding, Segments, segments

__all__ = ["LONGEST_TEXT", "MOST_SEGMENTS", "MOST_WIDE_SEGMENTS", "Segments", "SmsText", "compose", "segments"]

MOST_SEGMENTS = 3
"""Of a message that several texts share."""
MOST_WIDE_SEGMENTS = 6
"""The same where accents or other alphabets leave 67 characters a segment instead of 153."""
ANSWER = "offer"
"""Id of a numbered answer to the question before it."""
LONGEST_TEXT = 1600
"""Characters that the carrier takes in one request (its limit on ``Body``), counted here as UTF-16 units."""


@dataclass(frozen=True, slots=True)
class SmsText:
    body: str
    encoding: Encoding
    segments: int
    message_ids: tuple[str, ...]
    """Of everything said in it, in order; a text that had to be cut names its id in each piece."""


_Draft = list[tuple[str, str]]
"""What one text says: pieces, each with the id of its message."""


def compose(says: Iterable[Say], language: str, catalogues: Catalogues) -> tuple[SmsText, ...]:
    """The text messages that say ``says``, in order. A ``Say`` is cut only when it alone is too long for one text; a
    question goes on to the next text with its answers where these have no room beside it."""
    drafts: list[_Draft] = []
    for say in says:
        for piece in _cut(render(say, language, catalogues)):
            said = (piece, say.id)
            if drafts and not say.own_text and _fits(_body([*drafts[-1], said])):
                drafts[-1].append(said)
            else:
                drafts.append([*(_question_of(said, drafts[-1]) if drafts else ()), said])
    return tuple(_finished(_body(draft), [say_id for _piece, say_id in draft]) for draft in drafts)


def _question_of(answer: tuple[str, str], full: _Draft) -> _Draft:
    """The question with the answers before this one, taken out of the text that is full: who reads "2 No" alone does
    not know what was asked, and texts may arrive in another order."""
    question = max((at for at, (_piece, say_id) in enumerate(full) if say_id != ANSWER), default=0)
    if answer[1] != ANSWER or not question or not _fits(_body([*full[question:], answer])):
        return []
    moved = full[question:]
    del full[question:]
    return moved


def _body(draft: _Draft) -> str:
    return "\n".join(piece for piece, _say_id in draft)


def _fits(body: str) -> bool:
    counted = segments(body)
    return counted.count <= (MOST_SEGMENTS if counted.encoding == "GSM-7" else MOST_WIDE_SEGMENTS)


def _finished(body: str, ids: list[str]) -> SmsText:
    counted = segments(body)
    return SmsText(body, counted.encoding, counted.count, tuple(ids))


def _cut(body: str) -> list[str]:
    """``body`` whole when it is short enough, otherwise cut at line, sentence or word; nothing when it is blank."""
    found: list[str] = []
    rest = body.strip()
    while _units(rest) > LONGEST_TEXT:
        end = _break(rest[: _longest_head(rest)])
        found.append(rest[:end].rstrip())
        rest = rest[end:].lstrip()
    return [*found, rest] if rest else found


def _units(text: str) -> int:
    return len(text) if text.isascii() else len(text.encode("utf-16-le", "surrogatepass")) // 2


def _longest_head(text: str) -> int:
    """How many characters of a text that is too long fit into the longest one."""
    units = accumulate(2 if character > "\uffff" else 1 for character in text)
    return next(index for index, used in enumerate(units) if used > LONGEST_TEXT)


def _break(head: str) -> int:
    """Where to end ``head``: at its last line, sentence or word that leaves it half full, else where it ends."""
    for mark in ("\n", ". ", " "):
        at = head.rfind(mark)
        if at >= len(head) // 2:
            return at + len(mark)
    return len(head)
