"""Numbers, dates, times and lists as a language writes them, by CLDR, kept once made.

With ``plain`` the result is made to fit the alphabet of text messages: CLDR writes "5:30 PM" and French thousands with
a no-break space, which alone would more than halve the room of a text.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from functools import lru_cache

from babel.dates import format_date, format_time, match_skeleton
from babel.lists import format_list
from babel.numbers import format_decimal

from guide_service.wording.gsm import gsm_safe
from guide_service.wording.own_formats import own_date, own_formats
from guide_service.wording.plurals import locale_of

_COMMA_AFTER_WORD = re.compile(r"(?<=[^\W\d_]),")


@lru_cache(maxsize=8192)
def number(value: int | float, language: str, plain: bool) -> str:
    """A count, or a moisture number with at most one decimal: 14.5, 15 (never 15.0)."""
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be said to anybody")
    own = own_formats(language).get("decimal")
    if own is not None and value % 1:
        return f"{value:.1f}".replace(".", str(own))
    written = format_decimal(value, format="#,##0.#", locale=locale_of(language))
    return _worded(written, plain)


@lru_cache(maxsize=8192)
def short_date(day: dt.date, language: str, plain: bool) -> str:
    """Weekday, day and month, short and the same whenever it is read: "Tue Dec 1"."""
    own = own_date(day, language, long=False)
    if own is not None:
        return _worded(own, plain)
    written = format_date(day, _pattern(language, "MMMEd"), locale=locale_of(language))
    return _worded(_COMMA_AFTER_WORD.sub("", written), plain)


@lru_cache(maxsize=8192)
def spoken_date(day: dt.date, language: str) -> str:
    """The same with nothing shortened, for a voice: "Tuesday, December 1"."""
    own = own_date(day, language, long=True)
    if own is not None:
        return own
    pattern = re.sub(r"(?<!M)MMM(?!M)", "MMMM", re.sub(r"[Ec]+", "EEEE", _pattern(language, "MMMMEd")))
    return str(format_date(day, pattern, locale=locale_of(language)))


@lru_cache(maxsize=1024)
def date_word(day: dt.date, language: str, pattern: str) -> str:
    """The weekday (pattern EEEE) or the month (MMMM) of a date in full, as it stands in ``spoken_date``."""
    own = own_formats(language)
    if pattern == "EEEE" and "weekdays_long" in own:
        return str(own["weekdays_long"][day.weekday()])
    if pattern == "MMMM" and "months_long" in own:
        return str(own["months_long"][day.month - 1])
    return str(format_date(day, pattern, locale=locale_of(language)))


@lru_cache(maxsize=2048)
def clock_time(time: dt.time, language: str, plain: bool) -> str:
    """A time of day without seconds."""
    half_days = own_formats(language).get("half_days")
    if half_days is not None:
        return f"{time.hour % 12 or 12}:{time.minute:02} {half_days[time.hour // 12]}"
    return _worded(format_time(time, "short", locale=locale_of(language)), plain)


def joined(items: list[str], language: str) -> str:
    """A list in words: "K1, K2, and K3"."""
    last = own_formats(language).get("list_last")
    if last is not None and len(items) > 1:
        return ", ".join(items[:-1]) + str(last) + items[-1]
    return str(format_list(items, locale=locale_of(language)))


@lru_cache(maxsize=256)
def own_name(language: str) -> str:
    """A language named in itself (its own file, CLDR, or its code), with a capital: "English", "Español"."""
    name = str(own_formats(language).get("name") or locale_of(language).get_display_name() or language)
    return capital(name)


def capital(text: str) -> str:
    """As it begins a sentence or a line: only its first letter is touched."""
    return text[:1].upper() + text[1:]


@lru_cache(maxsize=256)
def direction(language: str) -> str:
    """``rtl`` or ``ltr``: where a line of the language begins."""
    return str(own_formats(language).get("direction") or locale_of(language).text_direction)


@lru_cache(maxsize=256)
def _pattern(language: str, skeleton: str) -> str:
    known = locale_of(language).datetime_skeletons
    matched = skeleton if skeleton in known else match_skeleton(skeleton, known)
    return str(known[matched].pattern)


def _worded(text: str, plain: bool) -> str:
    return gsm_safe(str(text)) if plain else str(text)
