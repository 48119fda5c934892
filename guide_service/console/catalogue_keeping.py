"""The commands that keep ``console.pot`` and each language's ``console.po``: extract, update, check.

Texts are found in the templates and in the Python of this package. As with the residents' catalogues the files hold
no dates and no line numbers: the same sources make the same bytes.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import PoFileError, read_po, write_po

from guide_service.console.catalogue import DOMAIN, SOURCE_LANGUAGE
from guide_service.wording.plurals import agrees_with_cldr, plural_header
from guide_service.wording.reviews import UNSIGNED

PACKAGE = Path(__file__).parent
WHERE = "guide_service/console"
METHODS = [("templates/**.html", "jinja2.ext:babel_extract"), ("**.py", "python")]
KEYWORDS = {"_": None, "gettext": None, "N_": None, "ngettext": (1, 2), "pgettext": ((1, "c"), 2),
            "npgettext": ((1, "c"), 2, 3)}  # fmt: skip
NOTES = "NOTE:"
"""Begins a comment above a text that its translators should read."""
_PLACE = re.compile(r"%\((\w+)\)[sdg]|%%|%")
_MARKUP = re.compile(r"<[^>]*>|&\w+;")
_KEPT_HEADERS = ("Last-Translator", "Language-Team", "PO-Revision-Date")
_UNFILLED = re.compile(r"YEAR-MO-DA|EMAIL@ADDRESS|<LL@li\.org>")
_STATE = re.compile(rf"{UNSIGNED}|reviewed by .+, \d{{4}}-\d{{2}}-\d{{2}}")


@dataclass(frozen=True, slots=True)
class Report:
    problems: tuple[str, ...]
    lacking: dict[str, Counter[str]] = field(default_factory=dict)
    """For each language how many texts are shown in English, by reason (``untranslated``, ``fuzzy``)."""


def template_path(locales_dir: Path) -> Path:
    return locales_dir / f"{DOMAIN}.pot"


def catalogue_path(locales_dir: Path, language: str) -> Path:
    return locales_dir / language / "LC_MESSAGES" / f"{DOMAIN}.po"


def translated(locales_dir: Path) -> list[str]:
    """Languages that have a catalogue of the pages."""
    return sorted(path.parent.parent.name for path in locales_dir.glob(f"*/LC_MESSAGES/{DOMAIN}.po"))


def extract(locales_dir: Path) -> Path:
    """Write ``console.pot`` from the sources; gives its path."""
    path = template_path(locales_dir)
    path.write_bytes(template())
    return path


def update(locales_dir: Path, languages: Iterable[str]) -> tuple[Path, ...]:
    """Merge the texts of the sources into the catalogue of each language, making those that are missing.

    A translation is kept as long as its English text stands anywhere in the sources; what is gone is kept as retired.
    """
    paths = {language: catalogue_path(locales_dir, language) for language in languages}
    for language, path in paths.items():
        old = _read(path) if path.is_file() else Catalog()
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(merged(old, language))
    return tuple(paths.values())


def check(locales_dir: Path, languages: Iterable[str]) -> Report:
    """Everything wrong with the template and the catalogues that can be found without a reader of the language."""
    path = template_path(locales_dir)
    problems = []
    if not path.is_file() or path.read_bytes() != template():
        problems.append(f"{path.name}: differs from the pages: extract again and commit")
    entries = list(_entries(extracted()))
    lacking = {}
    for language in languages:
        found, lacking[language] = _language_problems(locales_dir, language, entries)
        problems += found
    return Report(tuple(problems), lacking)


def extracted() -> Catalog:
    """Every text of the pages, in the order of files and lines."""
    catalogue = Catalog(domain=DOMAIN)
    found = extract_from_dir(PACKAGE, method_map=METHODS, options_map={}, keywords=KEYWORDS,
                             comment_tags=(NOTES,), strip_comment_tags=True)  # fmt: skip
    for file, _, message, comments, context in found:
        catalogue.add(message, None, [(f"{WHERE}/{Path(file).as_posix()}", 1)], auto_comments=comments, context=context)
    return catalogue


def template() -> bytes:
    """What ``console.pot`` holds when it is current."""
    return _written(extracted(), _header(None, {}))


def merged(old: Catalog, language: str) -> bytes:
    """The catalogue of a language: the texts as they are now, with every translation of ``old``."""
    kept = {name: value for name, value in old.mime_headers if name in _KEPT_HEADERS and not _UNFILLED.search(value)}
    header = _header(language, kept)
    catalogue = read_po(header.splitlines(keepends=True), domain=DOMAIN)
    earlier = {_key(entry): entry for entry in (*old.obsolete.values(), *_entries(old))}
    for entry in _entries(extracted()):
        known = earlier.pop(_key(entry), None)
        added = catalogue.add(entry.id, known.string if known else "", entry.locations, entry.flags,
                              entry.auto_comments, context=entry.context)  # fmt: skip
        comments = known.user_comments if known else []
        if not any(_STATE.fullmatch(comment) for comment in comments):
            comments = [UNSIGNED, *comments]
        added.user_comments = list(comments)
        if known and known.fuzzy:
            added.flags.add("fuzzy")
    for retired in earlier.values():
        if any(_forms(retired.string)):
            catalogue.obsolete[f"{retired.context or ''}{_forms(retired.id)[0]}"] = retired
    return _written(catalogue, header)


def _language_problems(locales_dir: Path, language: str, entries: list[Message]) -> tuple[list[str], Counter[str]]:
    path = catalogue_path(locales_dir, language)
    try:
        catalogue = _read(path)
    except FileNotFoundError:
        return [], Counter({"no catalogue": len(entries)})
    except (PoFileError, ValueError) as error:
        return [f"{language}: damaged: {error}"], Counter()
    problems, lacking = [], Counter[str]()
    if not agrees_with_cldr(language, catalogue.plural_forms):
        problems.append(f"{language}: plural forms: {catalogue.plural_forms}")
    for entry in entries:
        known = catalogue.get(_forms(entry.id)[0], entry.context)
        forms = _forms(known.string) if known else ()
        if known is None or not forms or not all(forms):
            lacking["untranslated"] += 1
        elif known.fuzzy:
            lacking["fuzzy"] += 1
        elif wrong := _misfit(_forms(entry.id), forms):
            problems.append(f"{language}: {_forms(entry.id)[0]!r}: {wrong}")
    return problems, lacking


def _misfit(source: tuple[str, ...], target: tuple[str, ...]) -> str:
    """What a translation does to the places or the markup of its text; empty when nothing."""
    wanted, needed = _places(source[-1]), _places(source[0])
    for form in target:
        there = _places(form)
        if not (needed & wanted) - {"num"} <= there or not there <= wanted:
            return f"names {sorted(there)} where the English names {sorted(wanted)}"
        if sorted(_MARKUP.findall(form)) != sorted(_MARKUP.findall(source[-1])):
            return "has other markup than the English"
    return ""


def _places(text: str) -> frozenset[str]:
    """Names of the places; ``%%`` and a stray ``%`` count as places too, so that a lost one is found."""
    return frozenset(match[1] or match[0] for match in _PLACE.finditer(text))


def _entries(catalogue: Catalog) -> Iterator[Message]:
    return (entry for entry in catalogue if entry.id)


def _key(entry: Message) -> tuple[str, str | None]:
    return _forms(entry.id)[0], entry.context


def _forms(text: str | list[str] | tuple[str, ...] | None) -> tuple[str, ...]:
    return (text or "",) if isinstance(text, str) or text is None else tuple(each or "" for each in text)


def _read(path: Path) -> Catalog:
    with path.open("rb") as file:
        return read_po(file, domain=DOMAIN, abort_invalid=True)


def _header(language: str | None, kept: dict[str, str]) -> str:
    fields = {"Project-Id-Version": DOMAIN}
    if language is not None and language != SOURCE_LANGUAGE:
        fields |= {"Language": language, **kept, "Plural-Forms": f"{plural_header(language)};"}
    fields |= {"MIME-Version": "1.0", "Content-Type": "text/plain; charset=utf-8", "Content-Transfer-Encoding": "8bit"}
    return 'msgid ""\nmsgstr ""\n' + "".join(f'"{name}: {value}\\n"\n' for name, value in fields.items()) + "\n"


def _written(catalogue: Catalog, header: str) -> bytes:
    body = BytesIO()
    write_po(body, catalogue, width=0, omit_header=True, include_lineno=False)
    return header.encode() + body.getvalue().strip(b"\n") + b"\n"
