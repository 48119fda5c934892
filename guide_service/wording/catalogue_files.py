"""Catalogue files as we write them: the template, and the template merged into a language.

They hold no dates, line numbers or tool names: the same flows make the same bytes, so a plain comparison tells whether
the template is current, and a diff shows only what a translator has to look at.
"""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.catalog import Message as Entry
from babel.messages.pofile import denormalize, read_po, write_po

from guide_service.wording.catalogue import (
    DOMAIN,
    SOURCE_LANGUAGE,
    Forms,
    Sourced,
    as_forms,
)
from guide_service.wording.extract import comments
from guide_service.wording.plurals import plural_categories, plural_header
from guide_service.wording.reviews import UNSIGNED, Reviews

_KEPT_HEADERS = ("PO-Revision-Date", "Last-Translator", "Language-Team")
NONE_SIGNED = Reviews()
_STATE = re.compile(rf"{UNSIGNED}|reviewed by .+, \d{{4}}-\d{{2}}-\d{{2}}")
_UNFILLED = re.compile(r"YEAR-MO-DA|EMAIL@ADDRESS|<LL@li\.org>")
_PREVIOUS = re.compile(r'^\| ?(?:(msgid|msgid_plural|msgctxt) )?(".*")$')


def template_path(locales_dir: Path) -> Path:
    return locales_dir / f"{DOMAIN}.pot"


def template(entries: tuple[Sourced, ...], folder: str) -> bytes:
    """What ``guide.pot`` holds when it is current; ``folder`` is where translators find the flow files."""
    catalogue = _with_header(None, {})
    for entry in entries:
        _add(catalogue, entry, "", folder)
    return _written(catalogue, None, {})


def merged(
    entries: tuple[Sourced, ...], old: Catalog, language: str, folder: str, reviews: Reviews = NONE_SIGNED
) -> bytes:
    """The catalogue of a language with the texts as they are now and every translation of ``old`` kept by its id.

    A text that has moved to another id, word for word, takes its translation with it.

    When the English text has changed, the last translation stays, marked fuzzy and with the text that it was made for.
    What no flow defines any more is kept as retired at the end. English gets its own texts.
    """
    kept = {name: value for name, value in old.mime_headers if name in _KEPT_HEADERS and not _UNFILLED.search(value)}
    catalogue = _with_header(language, kept)
    earlier: dict[str, Entry] = {entry.context: entry for entry in old.obsolete.values() if entry.context}
    earlier |= {entry.context: entry for entry in old if entry.context}
    gone = _gone(entries, earlier)
    for entry in entries:
        old_entry = earlier.pop(entry.context, None) or earlier.pop(gone.get(entry.forms, ""), None)
        _merge_one(catalogue, entry, old_entry, language, folder, reviews)
    for retired in earlier.values():
        if any(as_forms(retired.string)):
            retired.user_comments = _own_comments(retired)
            catalogue.obsolete[as_forms(retired.id)[0], str(retired.context)] = retired
    return _written(catalogue, language, kept)


def _gone(entries: tuple[Sourced, ...], earlier: dict[str, Entry]) -> dict[Forms, str]:
    """English texts whose id no flow defines any more: under another id they are the same text, moved."""
    present = {entry.context for entry in entries}
    return {as_forms(old.id): context for context, old in earlier.items() if context not in present and not old.fuzzy}


def _merge_one(
    catalogue: Catalog, entry: Sourced, old: Entry | None, language: str, folder: str, reviews: Reviews
) -> None:
    if language == SOURCE_LANGUAGE:
        _add(catalogue, entry, entry.forms if len(entry.forms) > 1 else entry.forms[0], folder)
        return
    added = _add(catalogue, entry, _fitted(as_forms(old.string) if old else (), entry, language), folder)
    added.user_comments = [reviews.state(entry.forms, as_forms(added.string))]
    if old is None:
        return
    added.user_comments += [comment for comment in _own_comments(old) if not _STATE.fullmatch(comment)]
    changed = as_forms(old.id) != entry.forms
    if any(as_forms(old.string)) and (changed or old.fuzzy):
        added.flags.add("fuzzy")
        added.previous_id = list(earlier_english(old) or (as_forms(old.id) if changed else ()))


def _fitted(forms: Forms, entry: Sourced, language: str) -> str | Forms:
    """An earlier translation in the number of forms that the entry has now; a new form starts as the last one was."""
    if len(entry.forms) == 1:
        return forms[-1] if forms else ""
    wanted = len(plural_categories(language))
    return tuple((*forms, *forms[-1:] * wanted)[:wanted]) if forms else ("",) * wanted


def _add(catalogue: Catalog, entry: Sourced, string: str | Forms, folder: str) -> Entry:
    catalogue.add(
        entry.forms if len(entry.forms) > 1 else entry.forms[0],
        string=string,
        locations=[(f"{folder}/{entry.message.file}", 1)],
        auto_comments=comments(entry),
        context=entry.context,
    )
    added = catalogue.get(entry.forms[0], entry.context)
    assert added is not None
    return added


def _own_comments(entry: Entry) -> list[str]:
    """A translator's comments, less the earlier English text, which Babel reads as one."""
    return [comment for comment in entry.user_comments if not _PREVIOUS.match(comment)]


def earlier_english(entry: Entry) -> Forms:
    """The English text that a fuzzy translation was made for, from its ``#|`` lines."""
    texts: list[list[str]] = []
    for comment in entry.user_comments:
        if match := _PREVIOUS.match(comment):
            if match[1] in ("msgid", "msgid_plural"):
                texts.append([])
            if match[1] != "msgctxt" and texts:
                texts[-1].append(match[2])
    return tuple(denormalize("\n".join(lines)) for lines in texts)


def _with_header(language: str | None, kept: dict[str, str]) -> Catalog:
    """An empty catalogue that knows its language's number of forms (Babel takes that from the header only)."""
    return read_po(_header(language, kept).splitlines(keepends=True), domain=DOMAIN)


def _header(language: str | None, kept: dict[str, str]) -> str:
    fields = {"Project-Id-Version": DOMAIN}
    if language is not None:
        fields |= {"Language": language, **kept, "Plural-Forms": f"{plural_header(language)};"}
    fields |= {
        "MIME-Version": "1.0",
        "Content-Type": "text/plain; charset=utf-8",
        "Content-Transfer-Encoding": "8bit",
    }
    lines = "".join(f'"{name}: {value}\\n"\n' for name, value in fields.items())
    return f'msgid ""\nmsgstr ""\n{lines}\n'


def _written(catalogue: Catalog, language: str | None, kept: dict[str, str]) -> bytes:
    body = BytesIO()
    write_po(body, catalogue, width=0, omit_header=True, include_previous=True, include_lineno=False)
    return _header(language, kept).encode() + body.getvalue().strip(b"\n") + b"\n"
