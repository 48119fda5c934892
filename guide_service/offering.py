"""Which languages are offered: outside the demo only those whose safety texts a speaker has signed.

A county may accept another one by name, with its reason, in its file (``unsigned_languages``). Whoever asks for a
language that is withheld is told so in it, and an interpreter is asked for.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from guide_service.county import County
from guide_service.wording.catalogue import SOURCE_LANGUAGE
from guide_service.wording.signing import unsigned_safety


def offered(county: County, flows_dir: Path, locales_dir: Path, *, demo: bool) -> tuple[str, ...]:
    """The county's languages without those that are withheld."""
    if demo:
        return county.languages
    return tuple(one for one in county.languages if _may_be_offered(one, county, flows_dir, locales_dir))


def _may_be_offered(language: str, county: County, flows_dir: Path, locales_dir: Path) -> bool:
    if language == SOURCE_LANGUAGE or language in county.unsigned_languages:
        return True
    return not _unsigned(flows_dir, locales_dir, language)


@cache
def _unsigned(flows_dir: Path, locales_dir: Path, language: str) -> tuple[str, ...]:
    return unsigned_safety(flows_dir, locales_dir, language)


def spoken_at_all(locales_dir: Path) -> tuple[str, ...]:
    """Every language that has a catalogue."""
    return tuple(sorted(path.parents[1].name for path in locales_dir.glob("*/LC_MESSAGES/guide.po")))
