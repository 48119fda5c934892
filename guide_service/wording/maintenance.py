"""The three commands that keep the catalogues: extract, update, check."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from babel.messages.catalog import Catalog

from guide_service.wording.catalogue import SOURCE_LANGUAGE, catalogue_path, read_catalogue, sourced
from guide_service.wording.catalogue_files import merged, template, template_path
from guide_service.wording.checking import Report, checked
from guide_service.wording.messages import load_messages


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
        path.write_bytes(merged(entries, old, language, flows_dir.name))
    return tuple(paths.values())


def check(flows_dir: Path, locales_dir: Path, languages: Iterable[str] = (SOURCE_LANGUAGE,)) -> Report:
    """Everything wrong with the texts and catalogues that can be found without a reader of the language."""
    return checked(sourced(load_messages(flows_dir).values()), flows_dir.name, locales_dir, languages)
