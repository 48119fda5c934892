"""Everything that a recorded voice must say, as a list for the person who speaks it, and what is wrong with a file.

A language that no machine speaks is spoken by a person once: every stretch of every text, and the pieces that stand in
their places (``wording.recorded`` names them). Safety texts come first, then the frame of a call, then the rest as the
flows have it; numbers, days and names last.
"""

from __future__ import annotations

import datetime as dt
import string
import wave
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from guide_service.wording import formats
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.messages import CALL, Message
from guide_service.wording.recorded import context_of, file_of, is_spoken, name_part
from guide_service.wording.template import Pieces, pieces
from guide_service.wording.voice import NOT_SAID

_NEVER_HEARD = NOT_SAID | {"offer"}
_TO_AGENTS = "alarm."
_LED_BY = " .,;:!?)"
LEAST_RATE, BYTES_OF_A_SAMPLE = 8_000, 2
"""[Hz], [bytes]: what a telephone carries (ITU-T G.711), and the plainest form of it that the carrier plays."""
FAINT, CLIPPED = 0.02, 0.999
"""Shares of full scale: a peak below the first is silence on a telephone, one above the second is cut off. Ours."""
LONGEST_LEAD = 0.7
"""[s] of quiet before the first word. Our choice: stretches are played one after the other."""
FASTEST, SLOWEST = 30.0, 4.0
"""Letters a second between which a stretch is believed to be whole and alone. Our choice, wide on purpose."""
_SECONDS_GRACE = 2.0


@dataclass(frozen=True, slots=True)
class Wanted:
    part: str
    words: str
    """What to say."""
    before: str = ""
    after: str = ""
    """What a caller hears around it, in brackets where a piece of another recording stands."""
    note: str = ""
    safety: bool = False

    @property
    def file(self) -> str:
        return file_of(self.part)


def wanted(language: str, catalogues: Catalogues, names: Iterable[str]) -> tuple[Wanted, ...]:
    """All recordings of a language. ``names``: the county's own words that a call may say."""
    heard = [message for message in catalogues.messages.values() if _is_heard(message)]
    heard.sort(key=lambda message: (not message.critical, message.kind != CALL))
    stretches = (each for message in heard for each in _stretches(message, language, catalogues))
    shared = (*_numbers(), *_calendar(language), *(Wanted(name_part(name), name, note="a name") for name in names))
    every = {each.part: each for each in (*stretches, *shared)}
    return tuple(every.values())


def _is_heard(message: Message) -> bool:
    return not message.printed and message.id not in _NEVER_HEARD and not message.id.startswith(_TO_AGENTS)


def _stretches(message: Message, language: str, catalogues: Catalogues) -> Iterator[Wanted]:
    context = context_of(message.id, catalogues)
    forms = catalogues.forms(language, context)
    for at, template in enumerate(forms):
        named = context if len(forms) == 1 else f"{context}@{at}"
        parts = pieces(template, False)
        for number, (words, name) in enumerate(parts):
            if is_spoken(words):
                behind = (f"[{name}]" if name else "") + _shown(parts[number + 1 :])
                note = message.note or ""
                yield Wanted(
                    f"{named}/{number}",
                    words.strip().lstrip(_LED_BY),
                    _shown(parts[:number]),
                    behind,
                    note,
                    message.critical,
                )


def _shown(parts: Pieces) -> str:
    return "".join(words + (f"[{name}]" if name else "") for words, name in parts)


def _numbers() -> Iterator[Wanted]:
    for value in range(101):
        yield Wanted(f"number/{value}", str(value), note="a number")
    yield Wanted("number/point", ".", note="the word between a number and its tenth")
    for digit in range(10):
        yield Wanted(f"digit/{digit}", str(digit), note="one digit of a phone number or code")
    for letter in string.ascii_uppercase:
        yield Wanted(f"letter/{letter}", letter, note="the letter of a wall, as people spell it")


def _calendar(language: str) -> Iterator[Wanted]:
    monday = dt.date(2024, 1, 1)
    for day in range(7):
        yield Wanted(f"weekday/{day}", formats.date_word(monday + dt.timedelta(days=day), language, "EEEE"))
    for day in range(1, 32):
        yield Wanted(f"day/{day}", str(day), note="the day of a month, as dates say it")
    for month in range(1, 13):
        yield Wanted(f"month/{month}", formats.date_word(dt.date(2024, month, 1), language, "MMMM"))
    for hour in range(24):
        yield Wanted(f"hour/{hour}", formats.clock_time(dt.time(hour), language, False), note="an hour of the day")
    for minute in range(60):
        yield Wanted(f"minute/{minute}", f"{minute:02}", note="the minutes behind an hour; 00 may be a breath of quiet")
    yield Wanted("list/last", "", note="the word before the last of a list, such as: and")


def wrong_with(path: Path, words: str) -> tuple[str, ...]:
    """What a listener would stumble over, found without one; nothing says that the words are the right ones.

    ``words``: what the file should say, as long as it should be.
    """
    try:
        with wave.open(str(path)) as file:
            shape = (file.getnchannels(), file.getsampwidth(), file.getframerate())
            samples = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2") if shape[1] == 2 else None
    except (wave.Error, EOFError) as problem:
        return (f"not a plain WAV file ({problem})",)
    if samples is None or shape[0] != 1 or shape[2] < LEAST_RATE:
        return (f"must be one channel of {8 * BYTES_OF_A_SAMPLE} bits at {LEAST_RATE} Hz or more",)
    return tuple(_heard_wrong(np.abs(samples.astype(np.float64)) / 32_768, shape[2], words))


def _heard_wrong(loudness: np.ndarray, rate: int, words: str) -> Iterator[str]:
    loud = np.flatnonzero(loudness >= FAINT)
    if not loud.size:
        yield "silent"
        return
    if float(loudness.max()) >= CLIPPED:
        yield "too loud: cut off at the top"
    lead = float(loud[0]) / rate
    if lead > LONGEST_LEAD:
        yield f"begins with {lead:.1f} s of quiet"
    seconds, letters = (loud[-1] - loud[0] + 1) / rate, sum(character.isalnum() for character in words)
    if letters > 3 and seconds < letters / FASTEST:
        yield f"{seconds:.1f} s is too short for {letters} letters"
    if seconds > letters / SLOWEST + _SECONDS_GRACE:
        yield f"{seconds:.1f} s is too long for {letters} letters"
