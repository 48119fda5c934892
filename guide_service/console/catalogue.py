"""The words of the agents' pages, through one gettext domain of their own: English now, others by adding a catalogue.

The sentences that households read are elsewhere (``conversation_flows/``); these are for the people who work here.
"""

from __future__ import annotations

import gettext as stdlib_gettext
from functools import lru_cache

from guide_service.settings import LOCALES_DIR

DOMAIN = "console"


@lru_cache(maxsize=16)
def translations(language: str = "en") -> stdlib_gettext.NullTranslations:
    """The catalogue of a language; the English of the sources where there is none."""
    return stdlib_gettext.translation(DOMAIN, LOCALES_DIR, languages=[language], fallback=True)


def gettext(message: str) -> str:
    return translations().gettext(message)


def N_(message: str) -> str:
    """Marks a text for extraction; it is translated where it is shown."""
    return message
