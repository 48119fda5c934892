"""A catalogue that comes back, from a translator's program or from the desk: all of it is in order, or none is taken.

A PO file is taken with the checks of ``locales check``; whatever is wrong is named with its line. What is merely not
for us (unknown texts, guesses of a program, translations of an earlier English text) is left out and named too. A file
of marks (reviews) that comes with it is taken only where it vouches for the very text that stands afterwards.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.catalog import Message as Entry
from babel.messages.pofile import PoFileError

from guide_service.wording.book import Book, problems, read_book
from guide_service.wording.catalogue import (
    Forms,
    Sourced,
    as_forms,
    catalogue_path,
    placeholders_fit,
    read_catalogue,
    sourced,
)
from guide_service.wording.catalogue_files import merged
from guide_service.wording.messages import load_messages
from guide_service.wording.reviews import A_ROLE, Reviews, Signed, WrongReviews, is_role, read_records, write_reviews


class Refused(ValueError):
    """A file that cannot be taken; each problem is a line with file and line number."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("\n".join(problems))
        self.problems = problems


@dataclass(frozen=True, slots=True)
class Taken:
    changed: tuple[str, ...]
    """Contexts of the texts that are different now."""
    signed: tuple[str, ...]
    taken_back: tuple[str, ...]
    left_out: tuple[str, ...]
    """What was not for us, each with file and line."""


def take(flows_dir: Path, locales_dir: Path, language: str, came: Path, marks: Path | None = None) -> Taken:
    """Merge a PO file, and the marks that come with it, into ``locales/<language>``.

    Raises ``Refused`` when anything in them is broken; then nothing is written.
    """
    entries = {entry.context: entry for entry in sourced(load_messages(flows_dir).values())}
    book = read_book(entries.values(), locales_dir, language)
    theirs = _read(came, language)
    left_out: list[str] = []
    wrong: list[str] = []
    coming: dict[str, Forms] = {}
    for new in theirs:
        if not new.context or not any(as_forms(new.string)):
            continue
        where = f"{came.name}:{new.lineno}: {new.context}"
        why = _not_for_us(new, entries)
        if why:
            left_out.append(f"{where}: {why}")
            continue
        coming[new.context] = as_forms(new.string)
        if coming[new.context] != book.texts.get(new.context) or new.context in book.outdated:
            wrong += [f"{where}: {p.kind}: {p.detail}" for p in problems(book, new.context, coming[new.context])]
    signed, back = _marks(marks, book, left_out, wrong)
    if wrong:
        raise Refused(wrong)
    reviews = book.reviews.with_signed(signed)
    for one in back:
        reviews = reviews.without(one.source, one.target)
    if signed or back:
        write_reviews(locales_dir, language, reviews)
    changed = tuple(c for c, forms in coming.items() if forms != book.texts.get(c) or c in book.outdated)
    _write(flows_dir, locales_dir, book, {c: coming[c] for c in changed}, reviews)
    new_marks = tuple(one.id for one in signed if book.reviews.of(one.source, one.target) is None)
    return Taken(changed, new_marks, tuple(one.id for one in back), tuple(left_out))


def _read(came: Path, language: str) -> Catalog:
    try:
        theirs = read_catalogue(came)
    except PoFileError as damaged:
        raise Refused([f"{came.name}:{damaged.lineno}: {damaged}"]) from damaged
    except (OSError, ValueError) as damaged:
        raise Refused([f"{came.name}: {damaged}"]) from damaged
    told = str(theirs.locale_identifier or language).replace("_", "-")
    if told.split("-")[0] != language.split("-")[0]:
        raise Refused([f"{came.name} says that it is in {told}, not {language}"])
    return theirs


def _not_for_us(new: Entry, entries: dict[str, Sourced]) -> str | None:
    entry = entries.get(str(new.context))
    if entry is None:
        return "no such text"
    if new.fuzzy:
        return "a guess or an earlier translation (fuzzy): take the mark away when it is right"
    return None if as_forms(new.id) == entry.forms else "made for another English text"


def _marks(marks: Path | None, book: Book, left_out: list[str], wrong: list[str]) -> tuple[list[Signed], list[Signed]]:
    """The signatures of the file, and those that it takes back; what is not for us or wrong is added to the lists.

    A signature may stand under a text that was changed again since: that text stays in use until the new one is signed.
    """
    if marks is None:
        return [], []
    try:
        given, back = read_records(marks, "signed"), read_records(marks, "taken_back")
    except WrongReviews as damaged:
        raise Refused([str(damaged)]) from damaged
    ours: list[Signed] = []
    for line, one in zip(_lines_of(marks, "[[signed]]"), given, strict=True):
        where, entry = f"{marks.name}:{line}: {one.id}", book.entries.get(one.id)
        if entry is None:
            left_out.append(f"{where}: no such text")
            continue
        ours.append(one)
        if not is_role(one.role):
            wrong.append(f"{where}: {A_ROLE}")
        if one.source == entry.forms:
            wrong += [f"{where}: {p.kind}: {p.detail}" for p in problems(book, one.id, one.target)]
        elif not placeholders_fit(one.target, one.source):
            wrong.append(f"{where}: placeholders: the translation names others than its English text")
    return ours, list(back)


def _lines_of(path: Path, head: str) -> Iterator[int]:
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        if line.strip() == head:
            yield number


def _write(flows_dir: Path, locales_dir: Path, book: Book, changes: dict[str, Forms], reviews: Reviews) -> None:
    path = catalogue_path(locales_dir, book.language)
    path.write_bytes(with_changes(read_catalogue(path), book, changes, flows_dir.name, reviews))


def with_changes(ours: Catalog, book: Book, changes: dict[str, Forms], folder: str, reviews: Reviews) -> bytes:
    """The catalogue of a language as a PO file, with these translations in it."""
    entries = tuple(book.entries.values())
    for entry in ours:
        if entry.context in changes:
            forms = changes[entry.context]
            entry.string = forms if len(book.entries[entry.context].forms) > 1 else forms[0]
            english = book.entries[entry.context].forms
            entry.id = english if len(english) > 1 else english[0]
            entry.flags.discard("fuzzy")
            entry.user_comments = [comment for comment in entry.user_comments if not comment.startswith("|")]
    return merged(entries, ours, book.language, folder, reviews)
