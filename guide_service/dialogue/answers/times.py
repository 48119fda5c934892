"""A time of day as people text it: "6pm", "18:30", "a las 6 de la tarde", "晚上七点半". Its words stand in words.toml.

    [times]
    morning, evening, noon     what tells the half of the day, wherever it stands; noon alone is twelve
    hour                       what stands behind the hour, before minutes: "h", "giờ", "点"
    half                       half past, behind the hour: "y media", "rưỡi"

An hour without its half of the day is the one that lies in the waking hours: "at 6" is six in the evening, "at 9" nine
in the morning. The answer names the hour, so that a wrong guess is seen at once. Two times, or none, are no time.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, field

from guide_service.dialogue.answers.hearing import Heard, hear
from guide_service.dialogue.answers.lexicon import Lexicon, Term
from guide_service.dialogue.answers.phrases import longest

EARLIEST_MEANT = 7
"""Nobody who texts "at 6" wants to be woken at six: hours before this one are taken as afternoon. Our choice."""
_HALF_OF_DAY = {"am": "a", "pm": "p"}
_DOTTED = re.compile(r"([ap])\s?\.\s?m\b\.?", re.IGNORECASE)
_IN_WORDS = frozenset({15, 30, 45})
"""Minutes that follow an hour in words ("six thirty")."""


def read_time(text: str, lexicon: Lexicon) -> dt.time | None:
    """The one time that ``text`` names; None for none, for several, and for what is no time."""
    reader = _Reader(hear(_DOTTED.sub(r"\1m", text), lexicon), lexicon)
    reader.read()
    if len(reader.halves) > 1 or len(reader.found) > 1:
        return None
    if not reader.found:
        return dt.time(12) if reader.noon else None
    hour, minute = reader.found[0]
    hour = _hour_of_day(hour, next(iter(reader.halves), ""))
    return dt.time(hour, minute) if hour < 24 and minute < 60 else None


def _hour_of_day(hour: int, half: str) -> int:
    if half == "a":
        return 0 if hour == 12 else hour
    if hour < 12 and (half == "p" or hour < EARLIEST_MEANT):
        return hour + 12
    return hour


@dataclass(slots=True)
class _Reader:
    """One walk over the tokens of a text."""

    heard: Heard
    lexicon: Lexicon
    at: int = 0
    found: list[tuple[int, int]] = field(default_factory=list)
    halves: set[str] = field(default_factory=set)
    noon: bool = False

    def read(self) -> None:
        while self.at < len(self.heard.tokens):
            if not self._word() and not self._hour():
                self.at += 1

    def _word(self) -> bool:
        """A word for the half of the day, or noon."""
        term = self._term(self.lexicon.times)
        if term is None or term.kind not in ("morning", "evening", "noon"):
            return False
        self.noon |= term.kind == "noon"
        self.halves |= {"a"} if term.kind == "morning" else {"p"} if term.kind == "evening" else set()
        return True

    def _hour(self) -> bool:
        hour, minute, in_figures = self._number()
        if hour is None:
            return False
        if minute is None:
            minute = self._minutes(in_figures)
        self.found.append((hour, minute or 0))
        if self._text() in _HALF_OF_DAY:
            self.halves.add(_HALF_OF_DAY[self._text()])
            self.at += 1
        return True

    def _minutes(self, after_figures: bool) -> int | None:
        """What follows the hour: ":30", "h30", "giờ 30", "y media", "thirty"."""
        behind = self._take("hour")
        if not behind and after_figures and self._text() == ":":
            self.at += 1
            behind = True
        if self._take("half"):
            return 30
        start = self.at
        minute, _, in_figures = self._number()
        two_digits = minute is not None and self.heard.tokens[start].text == f"{minute:02}"
        if minute is not None and ((behind and two_digits) or (not in_figures and minute in _IN_WORDS)):
            self._take("hour")  # 30分
            return minute
        self.at = start
        return None

    def _number(self) -> tuple[int | None, int | None, bool]:
        """A number as (hour, minutes of "7.30", whether it is in figures); steps over it."""
        if self.at >= len(self.heard.tokens):
            return None, None, False
        text = self.heard.tokens[self.at].text
        if text[0].isdigit():
            whole, _, rest = text.replace(",", ".").partition(".")
            if len(whole) <= 2 and rest.isdigit() == bool(rest) and len(rest) in (0, 2):
                self.at += 1
                return int(whole), int(rest) if rest else None, True
            self.at += 1
            return 99, None, True  # a number, but no time
        start = self.at
        term = self._term(self.lexicon.terms)
        if term is not None and term.kind == "number" and float(term.value).is_integer() and float(term.value) < 60:
            return int(float(term.value)), None, False
        self.at = start
        return None, None, False

    def _take(self, kind: str) -> bool:
        start = self.at
        term = self._term(self.lexicon.times)
        if term is not None and term.kind == kind:
            return True
        self.at = start
        return False

    def _term(self, graph: dict[str, object]) -> Term | None:
        """The longest entry of ``graph`` that begins here; steps over it."""
        if self.at >= len(self.heard.said):
            return None
        found = longest(graph, self.heard.said, self.at)
        if found is None or not isinstance(found[1], Term):
            return None
        self.at = found[0]
        return found[1]

    def _text(self) -> str:
        return self.heard.tokens[self.at].text if self.at < len(self.heard.tokens) else ""
