"""What is to be said, as data: message ids with arguments, never sentences."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Say:
    """One message of the catalogue with its arguments.

    An argument may be a string (given by a person or the county), an int, a float (a moisture number), a date, a time,
    the county's words by language, another ``Say`` (rendered first) or a tuple of ``Say`` or numbers (rendered and
    joined as a list in the person's language).
    """

    id: str
    args: Mapping[str, Argument] = field(default_factory=dict)
    count: int | None = None
    """For messages with plural forms: the number that chooses the form (also available as ``%(count)s``)."""
    own_text: bool = False
    """Starts a text message of its own (otherwise it may share one with its neighbours)."""
    language: str | None = None
    """Said in this language, whatever the person's is."""


@dataclass(frozen=True, slots=True)
class ByLanguage:
    """The county's own words: as it gave them for some languages, and plainly for all others."""

    plain: str
    own: Mapping[str, str] = field(default_factory=dict)

    def said_in(self, language: str) -> str:
        return self.own.get(language) or self.plain


Argument = str | int | float | dt.date | dt.time | Say | ByLanguage | tuple[Say | float, ...]
