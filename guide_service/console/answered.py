"""What a bare number answered, in the words that the person saw: "1" says nothing to whoever reads along."""

from __future__ import annotations

import re

LONGEST = 160
TELLS_NOTHING = 16
"""Letters: a shorter question leans on the sentence before it."""
_BARE = re.compile(r"\s*(\d{1,2})[\s.)!]*")
_OFFER = re.compile(r"^\s*(\d{1,2})[.):]?\s+(\S.*?)\s*$", re.MULTILINE)
_ASKS = ("?", "\N{FULLWIDTH QUESTION MARK}", "\N{ARABIC QUESTION MARK}")
_SENTENCES = re.compile(r"(?<=[.!?\u061f])\s+|(?<=[\u3002\uff01\uff1f])(?=.)")


def is_wordy(text: str | None) -> bool:
    """More than the number of an offered answer."""
    return sum(character.isalpha() for character in text or "") > 2


def option_chosen(body: str | None, sent: str | None) -> str | None:
    """The words beside this number in the text that was answered; None where the body is more, or was not offered."""
    bare = _BARE.fullmatch(body or "")
    if bare is None:
        return None
    return next((words for number, words in _OFFER.findall(sent or "") if number == bare[1]), None)


def question_of(sent: str | None) -> str:
    """What was asked: its last question, or all of the text without its numbered answers, in one line."""
    asked = " ".join(_OFFER.sub("", sent or "").split())
    if asked.endswith(_ASKS):
        starts = [0, *(end.end() for end in _SENTENCES.finditer(asked))]
        long = [start for start in starts if len(asked) - start >= TELLS_NOTHING]  # not "Are they?" alone
        asked = asked[max(long, default=0) :]
    return asked if len(asked) <= LONGEST else asked[: LONGEST - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"
