"""The texts in every language served: English from the flow files, the others from ``locales/<language>/LC_MESSAGES``.

A person always gets an answer. Where a translation is missing, unsure (fuzzy) or does not fit its placeholders, the
English one is said, and ``missing`` holds what, in which language and why. One made for an earlier English text stays
in use until somebody has read it again, unless the change was one of safety.
"""

from __future__ import annotations

import logging
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.catalog import Message as Entry
from babel.messages.pofile import read_po

from guide_service.wording.messages import Message
from guide_service.wording.plurals import plural_categories, plural_index
from guide_service.wording.reviews import Reviews, read_reviews
from guide_service.wording.template import placeholders

SOURCE_LANGUAGE = "en"
DOMAIN = "guide"
_LOG = logging.getLogger(__name__)


class UnknownMessage(KeyError):
    """An id that no flow file defines: a mistake of the program, never of a translator."""


@dataclass(frozen=True, slots=True)
class Missing:
    language: str
    context: str
    """The message id, with ``#spoken`` for its spoken variant."""
    why: str
    """``untranslated``, ``fuzzy``, ``outdated``, ``placeholders`` or ``no catalogue``."""


Forms = tuple[str, ...]
Table = dict[str, Forms]


@dataclass(frozen=True, slots=True)
class Sourced:
    """One catalogue entry as the flow files have it."""

    context: str
    forms: Forms
    """The English text, or its singular and plural."""
    message: Message
    spoken: bool = False


def sourced(messages: Iterable[Message]) -> tuple[Sourced, ...]:
    """The catalogue entries that messages make: one each, and one more for each spoken variant."""
    entries: list[Sourced] = []
    for message in messages:
        forms = (message.text,) if message.plural is None else (message.text, message.plural)
        entries.append(Sourced(message.id, forms, message))
        if message.spoken is not None:
            entries.append(Sourced(spoken_context(message.id), (message.spoken,), message, spoken=True))
    return tuple(entries)


def spoken_context(message_id: str) -> str:
    return f"{message_id}#spoken"


def catalogue_path(locales_dir: Path, language: str) -> Path:
    return locales_dir / language / "LC_MESSAGES" / f"{DOMAIN}.po"


def read_catalogue(path: Path) -> Catalog:
    """A catalogue file as it stands. Raises Babel's ``PoFileError`` for a damaged one."""
    # "#~|" (the earlier text of a retired entry, as gettext's own tools write it) is what Babel cannot read.
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    return read_po([line for line in lines if not line.startswith("#~|")], domain=DOMAIN, abort_invalid=True)


@dataclass(frozen=True, slots=True)
class Catalogues:
    messages: Mapping[str, Message]
    languages: tuple[str, ...]
    missing: frozenset[Missing] = frozenset()
    _tables: dict[str, Table] = field(default_factory=dict, repr=False)

    @classmethod
    def load(cls, locales_dir: Path, messages: Mapping[str, Message], languages: Iterable[str]) -> Catalogues:
        """Read the catalogues of ``languages`` (English needs none); what cannot be used is in ``missing``, and logged.

        Raises Babel's ``PoFileError`` for a damaged file.
        """
        entries = sourced(messages.values())
        english: Table = {entry.context: entry.forms for entry in entries}
        tables, missing = {SOURCE_LANGUAGE: english}, frozenset[Missing]()
        served = tuple(dict.fromkeys(languages))
        for language in served:
            if language != SOURCE_LANGUAGE:
                tables[language], lacking = _translated(locales_dir, language, entries)
                missing |= lacking
                _warn(language, lacking)
        return cls(messages, served, missing, tables)

    def text(self, language: str, message_id: str, *, spoken: bool = False, count: int | None = None) -> str:
        """The text of a message, with its placeholders. Raises ``UnknownMessage`` for an id that no flow defines."""
        message = self.messages.get(message_id)
        if message is None:
            raise UnknownMessage(message_id)
        table = self._tables.get(language, {})
        voiced = table.get(spoken_context(message_id)) if spoken and message.spoken is not None else None
        forms = voiced or table.get(message_id)
        if forms is None:
            return self._english(message_id, spoken, count)
        return _chosen(forms, language, count)

    def forms(self, language: str, message_id: str) -> Forms:
        """The text, or its plural forms, as it is said in that language: English where it has none."""
        return self._tables.get(language, {}).get(message_id) or self._tables[SOURCE_LANGUAGE][message_id]

    def with_text(self, language: str, context: str, forms: Forms) -> Catalogues:
        """The same with one translation in place of what is said: how a text would read that is not in use yet."""
        tables = {**self._tables, language: {**self._tables.get(language, {}), context: forms}}
        return replace(self, _tables=tables)

    def _english(self, message_id: str, spoken: bool, count: int | None) -> str:
        table = self._tables[SOURCE_LANGUAGE]
        voiced = table.get(spoken_context(message_id)) if spoken else None
        return _chosen(voiced or table[message_id], SOURCE_LANGUAGE, count)


def _chosen(forms: Forms, language: str, count: int | None) -> str:
    """The form for ``count``; without a count the last one, which is the general form in every language."""
    if len(forms) == 1:
        return forms[0]
    return forms[-1 if count is None else min(plural_index(language, count), len(forms) - 1)]


def _translated(locales_dir: Path, language: str, entries: tuple[Sourced, ...]) -> tuple[Table, frozenset[Missing]]:
    path = catalogue_path(locales_dir, language)
    if not path.is_file():
        return {}, frozenset(Missing(language, entry.context, "no catalogue") for entry in entries)
    by_context = {entry.context: entry for entry in read_catalogue(path) if entry.context}
    reviews = read_reviews(locales_dir, language)
    table, missing = {}, set()
    for entry in entries:
        forms, why = said(by_context.get(entry.context), entry, language, reviews)
        if forms is None:
            missing.add(Missing(language, entry.context, why))
        else:
            table[entry.context] = forms
    return table, frozenset(missing)


def said(translation: Entry | None, entry: Sourced, language: str, reviews: Reviews) -> tuple[Forms | None, str]:
    """The forms that are said, or None and why (a word of ``Missing.why``).

    The translation signed last stays in use until another one is signed, and one whose English text has changed since
    until it was read again, unless the change was one of safety (``older: unsafe``).
    """
    why = unusable(translation, entry, language)
    forms = as_forms(translation.string) if translation is not None else ()
    if why is None and reviews.of(entry.forms, forms):
        return forms, ""
    last = reviews.last(entry.context, entry.forms)
    if last is not None and (last.source == entry.forms or not entry.message.older_unsafe):
        return last.target, ""
    return (forms, "") if why is None else (None, why)


def unusable(translation: Entry | None, entry: Sourced, language: str) -> str | None:
    """Why a translation may not be said (a word of ``Missing.why``), or None when it may."""
    if translation is None:
        return "untranslated"
    if translation.fuzzy and (entry.message.older_unsafe or not is_outdated(translation)):
        return "fuzzy"
    if as_forms(translation.id) != entry.forms:
        return "outdated"
    forms = as_forms(translation.string)
    expected = len(plural_categories(language)) if len(entry.forms) > 1 else 1
    if len(forms) != expected or not all(form.strip() for form in forms):
        return "untranslated"
    return None if placeholders_fit(forms, entry.forms) else "placeholders"


def is_outdated(translation: Entry) -> bool:
    """Whether an unsure entry is a translation of an earlier English text, as ``update`` keeps them: no guess."""
    return any(comment.startswith("| msgid") for comment in translation.user_comments)


def placeholders_fit(forms: Forms, english: Forms) -> bool:
    """Nothing that the English text does not name; and nothing left out, but a number where the form itself says it."""
    known = frozenset().union(*map(placeholders, english))
    free = frozenset({"count"}) if len(english) > 1 else frozenset()
    return all(known - free <= placeholders(form) <= known for form in forms)


def as_forms(value: str | Iterable[str] | None) -> Forms:
    """The text or texts of a catalogue entry, always as a tuple."""
    return (value,) if isinstance(value, str) else tuple(value or ())


def _warn(language: str, missing: frozenset[Missing]) -> None:
    if missing:
        reasons = Counter(lack.why for lack in missing)
        told = ", ".join(f"{count} {why}" for why, count in sorted(reasons.items()))
        _LOG.warning("texts said in English to people who read %s: %s", language, told)
