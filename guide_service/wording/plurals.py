"""Which form of a text belongs to a number: CLDR's plural rules, in gettext's order of forms.

A catalogue holds one form for each CLDR category that whole numbers of everyday size reach, in CLDR's order (zero, one,
two, few, many, other). Categories kept for fractions or for millions ("un millón de …") are left out, so that
translators meet the forms that their tools show: two for Spanish, three for Ukrainian, six for Arabic, one for
Vietnamese.
"""

from __future__ import annotations

import gettext
from functools import lru_cache

from babel import Locale
from babel.core import UnknownLocaleError
from babel.messages.plurals import get_plural
from babel.plural import to_gettext

from guide_service.wording.own_formats import own_formats

_ORDER = ("zero", "one", "two", "few", "many", "other")
_EVERYDAY = range(1001)


@lru_cache(maxsize=64)
def locale_of(language: str) -> Locale:
    """CLDR's data for a language; English where CLDR has none, so that a date is at least readable."""
    try:
        return Locale.parse(language, sep="-")
    except (UnknownLocaleError, ValueError):
        return Locale("en")


@lru_cache(maxsize=64)
def _plural_locale(language: str) -> Locale:
    return locale_of(str(own_formats(language).get("plurals_like", language)))


@lru_cache(maxsize=64)
def plural_categories(language: str) -> tuple[str, ...]:
    """The CLDR categories of a language that its catalogue has forms for, in the order of the forms."""
    rule = _plural_locale(language).plural_form
    reached = {rule(n) for n in _EVERYDAY}
    return tuple(category for category in _ORDER if category in reached)


@lru_cache(maxsize=4096)
def plural_index(language: str, count: int) -> int:
    """Index of the form for ``count``; a number beyond everyday size takes the last form."""
    categories = plural_categories(language)
    category = _plural_locale(language).plural_form(abs(count))
    return categories.index(category) if category in categories else len(categories) - 1


def agrees_with_cldr(language: str, header: str) -> bool:
    """Whether a ``Plural-Forms`` header numbers the forms as ``plural_index`` does."""
    forms, _, expression = header.rstrip("; ").partition(";")
    try:
        index = gettext.c2py(expression.partition("=")[2].strip())
    except (ValueError, TypeError):
        return False
    right_count = forms.partition("=")[2].strip() == str(len(plural_categories(language)))
    return right_count and all(index(n) == plural_index(language, n) for n in _EVERYDAY)


@lru_cache(maxsize=64)
def plural_header(language: str) -> str:
    """The ``Plural-Forms`` header that a new catalogue gets: the customary one where that agrees with CLDR."""
    locale = _plural_locale(language)
    customary = str(get_plural(locale)).rstrip(";")
    for header in (customary, "nplurals=2; plural=(n > 1)", to_gettext(locale.plural_form).rstrip(";")):
        if agrees_with_cldr(language, header):
            return header
    raise ValueError(f"no plural header for {language!r} agrees with CLDR")
