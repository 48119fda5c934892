"""How a language is written, by ``locales/<language>/formats.toml``: its alphabet, and what CLDR does not know.

CLDR, and what is built on it, answers silently in another language where it has no data (French days for Haitian
Creole). A file may hold any of these keys; what it leaves out is CLDR's.

    alphabet       "GSM-7" when every letter of the language is in the small alphabet of text messages (3GPP TS 23.038);
                   its texts then have 153 characters a segment, and no letter that would cost them half their room
    direction      "rtl" or "ltr"
    plurals_like   a language of CLDR that has the same plural forms

    name           the language named in itself
    weekdays       seven, Monday first, as short as people write them; weekdays_long: in full
    months         twelve, short; months_long: in full
    date           "%(weekday)s %(day)s %(month)s"; date_long: the same for a voice
    half_days      what stands behind the hour before noon and after it: "AM", "PM"
    decimal        the sign before tenths
    list_last      what stands before the last of a list, with its blanks: " ak "
"""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

LOCALES = Path(__file__).resolve().parents[2] / "locales"
SHAPE = {"alphabet": 0, "direction": 0, "plurals_like": 0, "name": 0, "weekdays": 7, "weekdays_long": 7, "months": 12,
         "months_long": 12, "date": 0, "date_long": 0, "half_days": 2, "decimal": 0, "list_last": 0}  # fmt: skip
"""Keys, and how many texts each lists; 0: one text."""
CHOICES = {"alphabet": ("GSM-7",), "direction": ("ltr", "rtl")}


class WrongFormats(ValueError):
    """A formats.toml that cannot be used."""


@lru_cache(maxsize=64)
def own_formats(language: str) -> Mapping[str, Any]:
    path = LOCALES / language / "formats.toml"
    if not path.is_file():
        return {}
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    for key, value in table.items():
        count = SHAPE.get(key)
        texts = value if isinstance(value, list) else [value]
        if count is None or (len(value) if isinstance(value, list) else 0) != count:
            raise WrongFormats(f"{path}: {key}: {'unknown key' if count is None else f'{count or 1} texts'}")
        if not all(isinstance(text, str) and text for text in texts):
            raise WrongFormats(f"{path}: {key}: must be texts")
        if value not in CHOICES.get(key, (value,)):
            raise WrongFormats(f"{path}: {key}: {' or '.join(CHOICES[key])}")
    return table


def small_alphabet(language: str) -> bool:
    """Whether all that the language writes is in the small alphabet of text messages."""
    return own_formats(language).get("alphabet") == "GSM-7"


def own_date(day: dt.date, language: str, long: bool) -> str | None:
    """A date in the language's own words, or None where CLDR has them."""
    own, end = own_formats(language), "_long" if long else ""
    if f"date{end}" not in own or f"weekdays{end}" not in own or f"months{end}" not in own:
        return None
    weekday, month = own[f"weekdays{end}"][day.weekday()], own[f"months{end}"][day.month - 1]
    return str(own[f"date{end}"]) % {"weekday": weekday, "day": str(day.day), "month": month}
