"""From what is to be said (ids and arguments) to the words, in a person's language, for a screen or a voice."""

from __future__ import annotations

import datetime as dt

from guide_service.dialogue.saying import Argument, ByLanguage, Say
from guide_service.wording import formats
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.gsm import gsm_safe, without_controls
from guide_service.wording.template import pieces


class MissingArgument(KeyError):
    """A message was said without an argument that its text names."""


def render(say: Say, language: str, catalogues: Catalogues, *, spoken: bool = False) -> str:
    """The words of one ``Say``.

    Numbers, dates, times and lists are written by CLDR for ``language``. For a text message everything that is ours is
    made to fit the alphabet of text messages; a person's own words (string arguments) keep every character but
    controls. With ``spoken`` the spoken variant is used, dates are said in full, and nothing is made to fit.

    Raises ``UnknownMessage``, ``MissingArgument``, and ``TypeError`` for an argument that is none of ``Argument``.
    """
    language = say.language or language
    template = catalogues.text(language, say.id, spoken=spoken, count=say.count)
    parts: list[str] = []
    for words, name in pieces(template, not spoken):
        parts.append(words)
        if name is not None:
            parts.append(_argument(_named(say, name), language, catalogues, spoken))
    return "".join(parts)


def _named(say: Say, name: str) -> Argument:
    if name in say.args:
        return say.args[name]
    if name == "count" and say.count is not None:
        return say.count
    raise MissingArgument(f"{say.id}: {name}")


def _argument(value: Argument, language: str, catalogues: Catalogues, spoken: bool) -> str:
    if isinstance(value, str):
        return without_controls(value)
    if isinstance(value, int | float):
        return formats.number(value, language, not spoken)
    if isinstance(value, ByLanguage):
        words = without_controls(value.said_in(language))
        return words if spoken else gsm_safe(words)
    if isinstance(value, Say):
        return render(value, language, catalogues, spoken=spoken)
    if isinstance(value, tuple):
        return formats.joined([_argument(item, language, catalogues, spoken) for item in value], language)
    return _day_or_time(value, language, spoken)


def _day_or_time(value: dt.date | dt.time, language: str, spoken: bool) -> str:
    if isinstance(value, dt.time):
        return formats.clock_time(value, language, not spoken)
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return formats.spoken_date(value, language) if spoken else formats.short_date(value, language, True)
    raise TypeError(f"{type(value).__name__} is not said: turn it into a local date, a time or words first")
