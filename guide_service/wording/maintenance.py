"""The three commands that keep the catalogues: extract, update, check."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from babel.messages.catalog import Catalog

from guide_service.wording import room
from guide_service.wording.catalogue import (
    SOURCE_LANGUAGE,
    Sourced,
    as_forms,
    catalogue_path,
    read_catalogue,
    sourced,
)
from guide_service.wording.catalogue_files import merged, template, template_path
from guide_service.wording.checking import Report, checked
from guide_service.wording.messages import load_messages
from guide_service.wording.reviews import read_reviews


def extract(flows_dir: Path, locales_dir: Path) -> Path:
    """Write ``guide.pot`` from the flow files; gives its path."""
    path = template_path(locales_dir)
    locales_dir.mkdir(parents=True, exist_ok=True)
    path.write_bytes(template(sourced(load_messages(flows_dir).values()), flows_dir.name))
    return path


def update(flows_dir: Path, locales_dir: Path, languages: Iterable[str]) -> tuple[Path, ...]:
    """Merge the texts of the flow files into the catalogue of each language, making those that are missing.

    Translations are kept by message id. One whose English text has changed is marked fuzzy and not said until a
    translator has taken the mark away. Gives the paths written.
    """
    entries = sourced(load_messages(flows_dir).values())
    paths = {language: catalogue_path(locales_dir, language) for language in languages}
    for language, path in paths.items():
        old = read_catalogue(path) if path.is_file() else Catalog()
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(merged(entries, old, language, flows_dir.name, read_reviews(locales_dir, language)))
    return tuple(paths.values())


def check(flows_dir: Path, locales_dir: Path, languages: Iterable[str] = (SOURCE_LANGUAGE,)) -> Report:
    """Everything wrong with the texts and catalogues that can be found without a reader of the language."""
    return checked(sourced(load_messages(flows_dir).values()), flows_dir.name, locales_dir, languages)


_TABLE_HEAD = """# Segments of every text message

Made by `python -m guide_service locales segments > docs/segments.md`; a test compares. Each text with the longest
values that may stand in its places, in the longest of its plural forms. The budget is that of English and of the other
languages of the small alphabet (153 characters a segment); the others may take twice as many segments of 67. `-`: not
translated yet.

"""


def segment_table(flows_dir: Path, locales_dir: Path, languages: Iterable[str]) -> str:
    """The table of docs/segments.md."""
    entries = sourced(message for message in load_messages(flows_dir).values() if not message.never_texted)
    by_language = {language: _texts(locales_dir, language, entries) for language in languages}
    return _TABLE_HEAD + "\n".join(room.table(entries, by_language)) + "\n"


def _texts(locales_dir: Path, language: str, entries: tuple[Sourced, ...]) -> room.Texts:
    if language == SOURCE_LANGUAGE:
        return {entry.context: entry.forms for entry in entries}
    path = catalogue_path(locales_dir, language)
    found = read_catalogue(path) if path.is_file() else ()
    texts = {str(entry.context): as_forms(entry.string) for entry in found if entry.context}
    return {context: forms for context, forms in texts.items() if all(forms)}
