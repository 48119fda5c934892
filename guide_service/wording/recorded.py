"""What a recorded voice must have: names of recordings, and which of a language's are there.

A message is recorded once for each stretch of its words between its places: ``check.point/0`` is what stands before
the first place, ``check.point/1`` what stands between the first and the second; a stretch without letters needs none.
One with plural forms is recorded in each of them: ``nudge.checks@0/0``. In the places stand pieces that all share:

    number/22           0 to 100 as the language says them; number/point between a number and its tenth
    digit/7             in phone numbers and codes
    letter/K            of a place's label
    weekday/0, day/12, month/3     Monday first; in the order in which the language's dates say them
    hour/14, minute/30  of a clock time
    list/last           before the last of a list ("and")
    name/extension-office   the county's own names: office, county, areas, places that lend meters

Words of a person's own (the name of a room, a street) are named like the county's, and nobody has recorded them: a call
that would need them says honestly that it cannot.

Files: ``locales/<language>/recordings/``, named by ``file_of``.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

from guide_service.dialogue.saying import Argument, ByLanguage, Say
from guide_service.wording import formats
from guide_service.wording.catalogue import Catalogues, spoken_context
from guide_service.wording.speech import speech_of
from guide_service.wording.template import pieces as stretches

FOLDER = "recordings"
_LABEL = re.compile(r"([A-Z]{1,2})(\d{1,3})")
_LABELS = re.compile(r"[A-Z]{1,2}\d{1,3}(?:, [A-Z]{1,2}\d{1,3})*")
_DIGITS = re.compile(r"[\d\- ]+")


def parts_of(say: Say, language: str, catalogues: Catalogues) -> tuple[str, ...]:
    """Names of the recordings that say it, in order."""
    return tuple(_parts(say, say.language or language, catalogues))


def context_of(message_id: str, catalogues: Catalogues) -> str:
    """The message, or its spoken variant where it has one: what is recorded."""
    return message_id if catalogues.messages[message_id].spoken is None else spoken_context(message_id)


def _parts(say: Say, language: str, catalogues: Catalogues) -> Iterator[str]:
    context = context_of(say.id, catalogues)
    template = catalogues.text(language, say.id, spoken=True, count=say.count)
    forms = catalogues.forms(language, context)
    form = f"@{forms.index(template)}" if len(forms) > 1 else ""
    for number, (words, name) in enumerate(stretches(template, False)):
        if is_spoken(words):
            yield f"{context}{form}/{number}"
        if name is not None:
            yield from _of_argument(name, say.args.get(name, say.count or ""), language, catalogues)


def is_spoken(words: str) -> bool:
    """Whether a stretch has anything to say; a full stop between two places has not."""
    return any(character.isalnum() for character in words)


def _of_argument(name: str, value: Argument, language: str, catalogues: Catalogues) -> Iterator[str]:
    if isinstance(value, Say):
        yield from _parts(value, value.language or language, catalogues)
    elif isinstance(value, tuple):
        for at, item in enumerate(value):
            if at and at == len(value) - 1:
                yield "list/last"
            yield from _of_argument(name, item, language, catalogues)
    elif isinstance(value, dt.time):
        yield from (f"hour/{value.hour}", f"minute/{value.minute}")
    elif isinstance(value, dt.date):
        yield from date_parts(value, language)
    elif isinstance(value, int | float):
        yield from number_parts(float(value))
    else:
        yield from _of_words(value.said_in(language) if isinstance(value, ByLanguage) else value)


def _of_words(words: str) -> Iterator[str]:
    if _LABELS.fullmatch(words):
        for letters, number in _LABEL.findall(words):
            yield from (f"letter/{letter}" for letter in letters)
            yield f"number/{number}"
    elif words.isdigit() and len(words) <= 2:
        yield f"number/{int(words)}"
    elif _DIGITS.fullmatch(words):
        yield from (f"digit/{digit}" for digit in words if digit.isdigit())
    else:
        yield name_part(words)


def name_part(words: str) -> str:
    """A name of the county's own, or words of a person, of which nobody has a recording."""
    return "name/" + "-".join(re.findall(r"\w+", words.lower()))


def number_parts(value: float) -> Iterator[str]:
    """A moisture number with at most one decimal: 14.5 is fourteen, point, five."""
    whole, tenth = divmod(round(value * 10), 10)
    yield f"number/{whole}"
    if tenth:
        yield from ("number/point", f"number/{tenth}")


def date_parts(day: dt.date, language: str) -> Iterator[str]:
    """Weekday, day and month in the order of the language's own long date."""
    named = {
        f"weekday/{day.weekday()}": formats.date_word(day, language, "EEEE"),
        f"month/{day.month}": formats.date_word(day, language, "MMMM"),
        f"day/{day.day}": str(day.day),
    }
    written = formats.spoken_date(day, language)
    yield from sorted(named, key=lambda part: written.find(named[part]))


@lru_cache(maxsize=16)
def recorded_parts(locales_dir: Path, language: str) -> frozenset[str]:
    """Parts of a language that a recording exists of; read once in a process."""
    return frozenset(part_of(path.name) for path in (locales_dir / language / FOLDER).glob("*.wav"))


def has_voice(locales_dir: Path, language: str) -> bool:
    """A synthesised one, or recordings; where a single one of these lacks, the call says so when it comes to it."""
    speech = speech_of(locales_dir, language)
    return speech is not None and (not speech.recorded or bool(recorded_parts(locales_dir, language)))


@lru_cache(maxsize=16)
def unspoken(locales_dir: Path, languages: tuple[str, ...]) -> frozenset[str]:
    """Those of the languages that calls have no voice for."""
    return frozenset(language for language in languages if not has_voice(locales_dir, language))


def file_of(part: str) -> str:
    """Name of a part's file: ids of messages hold dots, so the one slash becomes two hyphens."""
    return part.replace("/", "--").replace("#", "++") + ".wav"


def part_of(file: str) -> str:
    return file.removesuffix(".wav").replace("++", "#").replace("--", "/")
