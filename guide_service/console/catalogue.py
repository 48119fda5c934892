"""The words of the agents' pages, through one gettext domain of their own: a language is one file, ``console.po``.

The sentences that households read are elsewhere (``conversation_flows/``); these are for the people who work here.
Templates and Python ask for words alike, and get them in the language of the request that is being answered
(``tongue``). Outside of one, and where a language lacks a text, they are the English of the sources.
"""

from __future__ import annotations

import gettext as stdlib_gettext
import io
from contextvars import ContextVar
from functools import lru_cache

from babel import Locale, UnknownLocaleError
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.support import Translations

from guide_service.settings import LOCALES_DIR

DOMAIN = "console"
SOURCE_LANGUAGE = "en"
COUNTRY = "US"
"""Whose way of writing dates and numbers is taken, where CLDR knows it for a language."""


class Spoken:
    """The language of one request. Changed in place: parts of a request run in threads with copies of its context."""

    def __init__(self, language: str = SOURCE_LANGUAGE) -> None:
        self.language = language


SPOKEN: ContextVar[Spoken] = ContextVar("spoken")
_ENGLISH = Spoken()


def language() -> str:
    return SPOKEN.get(_ENGLISH).language


@lru_cache(maxsize=1)
def languages() -> tuple[str, ...]:
    """Those that the pages can be read in: the sources' own, and one for each catalogue file."""
    found = {path.parent.parent.name for path in LOCALES_DIR.glob(f"*/LC_MESSAGES/{DOMAIN}.po")}
    return (SOURCE_LANGUAGE, *sorted(found - {SOURCE_LANGUAGE}))


@lru_cache(maxsize=32)
def translations(language: str) -> stdlib_gettext.NullTranslations:
    """The catalogue of a language. Entries marked fuzzy are not used."""
    path = LOCALES_DIR / language / "LC_MESSAGES" / f"{DOMAIN}.po"
    if not path.is_file():
        return stdlib_gettext.NullTranslations()
    compiled = io.BytesIO()
    with path.open("rb") as file:
        write_mo(compiled, read_po(file, locale=language, domain=DOMAIN))
    compiled.seek(0)
    return Translations(compiled, DOMAIN)


@lru_cache(maxsize=32)
def locale_of(language: str) -> Locale:
    """CLDR's data for a language as it is written in the county's country; English where CLDR has none."""
    tag = language.replace("-", "_")
    for name in (f"{tag}_{COUNTRY}", tag):
        try:
            return Locale.parse(name)
        except (UnknownLocaleError, ValueError):
            continue
    return Locale(SOURCE_LANGUAGE, COUNTRY)


def locale() -> Locale:
    """What dates, numbers and names of languages are written by."""
    return locale_of(language())


def gettext(message: str) -> str:
    return translations(language()).gettext(message)


def ngettext(one: str, many: str, count: int) -> str:
    return translations(language()).ngettext(one, many, count)


def pgettext(context: str, message: str) -> str:
    """For a word that another language says in two ways: the context tells them apart."""
    return translations(language()).pgettext(context, message)


def npgettext(context: str, one: str, many: str, count: int) -> str:
    return translations(language()).npgettext(context, one, many, count)


def N_(message: str) -> str:
    """Marks a text for extraction; it is translated where it is shown."""
    return message
