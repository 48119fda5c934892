"""How many segments each text takes in each language, with the longest values that the language has for its places."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache

from guide_service.wording import formats
from guide_service.wording.catalogue import Forms, Sourced
from guide_service.wording.gsm import gsm_safe
from guide_service.wording.longest import longest
from guide_service.wording.own_formats import small_alphabet
from guide_service.wording.segments import Segments, segments
from guide_service.wording.template import filled, placeholders

WIDE = 2
"""A text with letters outside the small alphabet has 67 characters a segment instead of 153: it may take twice as many
segments (2 become 4, 3 become 6)."""

Texts = Mapping[str, Forms]
"""Catalogue texts of one language by context."""

_DATES = frozenset({"date", "day", "earliest", "latest", "first_check", "next_check", "file_next"})
_OF_OURS = {"point": "point.", "label": "label.", "reason": "reason."}


def allowed_segments(budget: int, language: str) -> int:
    """Segments that a text with this budget in English may take."""
    return budget if small_alphabet(language) else budget * WIDE


def counted(text: str, context: str, language: str, texts: Texts) -> Segments:
    """Segments of one form with every place at its longest."""
    values = {name: longest_value(name, context, language, texts) for name in placeholders(text)}
    return segments(gsm_safe(filled(text, values)))


def longest_value(name: str, context: str, language: str, texts: Texts) -> str:
    """The longest of what may stand in a place: our own texts and dates as this language has them."""
    ours = _own(name, context, language, texts)
    usual = longest(name, context) or ""
    return usual if ours is None else ours


def _own(name: str, context: str, language: str, texts: Texts) -> str | None:
    if name in _DATES:
        return longest_date(language)
    if name == "points":
        points = [texts.get(f"point.{point}", ("",))[0] for point in ("plate", "low_stud", "mid_stud")]
        return formats.joined(points, language)
    if name == "reason" and context.startswith("reason."):
        return None
    prefix = "alarm.reason." if name == "reason" and context.startswith("alarm.") else _OF_OURS.get(name)
    if name == "reasons":
        return formats.joined([_longest_of("reason.", texts)] * 2, language)
    return None if prefix is None else _longest_of(prefix, texts)


def _longest_of(prefix: str, texts: Texts) -> str:
    found = [_plainly(forms[0], context) for context, forms in texts.items() if context.startswith(prefix)]
    return max(found, key=len, default="")


def _plainly(text: str, context: str) -> str:
    return gsm_safe(filled(text, {name: longest(name, context) or "" for name in placeholders(text)}))


@lru_cache(maxsize=64)
def longest_date(language: str) -> str:
    days = (dt.date(2026, 1, 1) + dt.timedelta(days=n) for n in range(365))
    return max((formats.short_date(day, language, True) for day in days), key=len)


def most_segments(entry: Sourced, language: str, texts: Texts) -> Segments | None:
    """Of the longest form of a text; None where the language has no such text."""
    forms = texts.get(entry.context)
    if forms is None:
        return None
    return max((counted(form, entry.context, language, texts) for form in forms), key=lambda found: found.count)


def table(entries: Iterable[Sourced], by_language: Mapping[str, Texts]) -> Iterator[str]:
    """Lines of Markdown: one row for each text message, one column for each language."""
    languages = list(by_language)
    yield f"| message | budget | {' | '.join(languages)} |"
    yield f"|---|---|{'---|' * len(languages)}"
    for entry in entries:
        if not entry.spoken:
            counts = [most_segments(entry, language, by_language[language]) for language in languages]
            shown = ["-" if found is None else str(found.count) for found in counts]
            yield f"| `{entry.context}` | {entry.message.budget} | {' | '.join(shown)} |"
