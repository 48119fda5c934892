"""The translators' desk: what stands in the files of a language, with the work on top of it that is not there yet.

Work is kept in the database (``records.text_draft``), so that any number of processes see the same; it reaches people
through ``locales import`` of what the desk exports. Files are read again when they change.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlmodel import Session

from guide_service.console.sign_in import SignedIn
from guide_service.offering import spoken_at_all
from guide_service.records.text_draft import (
    DRAFT,
    REVIEWED,
    TAKEN_BACK,
    TextDraft,
    drafts_of,
    marks_of,
    newest_drafts,
)
from guide_service.settings import FLOWS_DIR, LOCALES_DIR
from guide_service.wiring import Service
from guide_service.wording.book import Book, Change, Piece, pieces, problems, read_book
from guide_service.wording.catalogue import SOURCE_LANGUAGE, Forms, catalogue_path, read_catalogue, sourced
from guide_service.wording.checking import Problem
from guide_service.wording.importing import with_changes
from guide_service.wording.reviews import Reviews, Signed, as_toml, reviews_path

LONGEST = 4000
"""Characters kept of one form: the longest text of the flows has not half as many."""


Act = Callable[[Session, "Desk"], None]
"""What is done to a text in one transaction."""


class Meanwhile(Exception):
    """Somebody else has worked on the text since the page was shown."""


class NotInOrder(Exception):
    """A text that cannot be kept, and why."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("; ".join(str(problem) for problem in problems))
        self.problems = tuple(problems)


@dataclass(frozen=True)
class Desk:
    """One language at the desk."""

    book: Book
    changes: dict[str, Change]
    reviews: Reviews
    """Of the files, with the marks given and taken back since."""
    pieces: tuple[Piece, ...]

    def piece(self, context: str) -> Piece | None:
        return next((one for one in self.pieces if one.context == context), None)


def languages(locales_dir: Path = LOCALES_DIR) -> tuple[str, ...]:
    return tuple(each for each in spoken_at_all(locales_dir) if each != SOURCE_LANGUAGE)


def desk(session: Session, service: Service, language: str, locales_dir: Path = LOCALES_DIR) -> Desk:
    book = _book(service, language, locales_dir)
    changes = {row.context: _change(row) for row in newest_drafts(session, language) if _still_counts(row, book)}
    reviews = _with_marks(book, marks_of(session, language))
    return Desk(book, changes, reviews, pieces(book, changes, reviews))


_BOOKS: dict[tuple[str, Path], tuple[object, Book]] = {}
"""By language and folder: the state of the files and flows that were read, and what they held."""


def _book(service: Service, language: str, locales_dir: Path) -> Book:
    paths = (catalogue_path(locales_dir, language), reviews_path(locales_dir, language))
    stamp = (service.flows.digest, *(path.stat().st_mtime_ns if path.is_file() else 0 for path in paths))
    known = _BOOKS.get((language, locales_dir))
    if known is None or known[0] != stamp:
        known = (stamp, read_book(sourced(service.catalogues.messages.values()), locales_dir, language))
        _BOOKS[language, locales_dir] = known
    return known[1]


def _change(row: TextDraft) -> Change:
    return Change(row.context, row.version, tuple(row.source), tuple(row.target))


def _still_counts(row: TextDraft, book: Book) -> bool:
    """Work on an earlier English text counts until the files have a translation of the present one."""
    entry = book.entries.get(row.context)
    if entry is None:
        return False
    newer_in_file = row.context in book.texts and row.context not in book.outdated
    return tuple(row.source) == entry.forms or not newer_in_file


def _with_marks(book: Book, marks: Sequence[TextDraft]) -> Reviews:
    reviews = book.reviews
    for row in marks:
        if row.act == REVIEWED:
            reviews = reviews.with_signed([_signed(row)])
        else:
            reviews = reviews.without(tuple(row.source), tuple(row.target))
    return reviews


def _signed(row: TextDraft) -> Signed:
    return Signed(row.context, tuple(row.source), tuple(row.target), row.role or "", row.at.date())


# what a translator does


def save(session: Session, service: Service, who: SignedIn, at: Desk, context: str, seen: int, target: Forms) -> None:
    """Keep a translation. Raises ``Meanwhile`` and ``NotInOrder``; ``IntegrityError`` where two meet in one instant."""
    found = problems(at.book, context, target)
    if found:
        raise NotInOrder(found)
    _add(session, service, who, at, context, seen, DRAFT, target)


def review(session: Session, service: Service, who: SignedIn, at: Desk, context: str, seen: Seen, role: str) -> None:
    """Vouch for the texts that were shown: these very ones. Raises as ``save`` does."""
    piece = at.piece(context)
    if piece is None or (piece.entry.forms, piece.target) != (seen.source, seen.target):
        raise Meanwhile
    found = problems(at.book, context, piece.target)
    if found:
        raise NotInOrder(found)
    _add(session, service, who, at, context, seen.version, REVIEWED, piece.target, role)


def take_back(session: Session, service: Service, who: SignedIn, at: Desk, context: str, seen: int) -> None:
    """The mark under the present text is no longer given. Raises ``Meanwhile``."""
    piece = at.piece(context)
    if piece is None or piece.signed is None:
        raise Meanwhile
    _add(session, service, who, at, context, seen, TAKEN_BACK, piece.target, piece.signed.role)


@dataclass(frozen=True, slots=True)
class Seen:
    """What a page showed to whoever signs."""

    version: int
    source: Forms
    target: Forms


def _add(
    session: Session,
    service: Service,
    who: SignedIn,
    at: Desk,
    context: str,
    seen: int,
    act: str,
    target: Forms,
    role: str | None = None,
) -> None:
    rows = drafts_of(session, at.book.language, context)
    newest = rows[0].version if rows else 0
    if newest != seen:
        raise Meanwhile
    row = TextDraft(
        language=at.book.language,
        context=context,
        version=newest + 1,
        act=act,
        source=list(at.book.entries[context].forms),
        target=list(target),
        role=role,
        agent_id=who.agent.id,
        at=service.clock.now(),
    )
    session.add(row)
    session.flush()


# what goes out


def catalogue_file(at: Desk, locales_dir: Path = LOCALES_DIR) -> bytes:
    """The language as a PO file, with the work that is in order for the present English texts."""
    coming = {c: one.target for c, one in at.changes.items() if one.source == at.book.entries[c].forms and one.target}
    ours = read_catalogue(catalogue_path(locales_dir, at.book.language))
    return with_changes(ours, at.book, coming, FLOWS_DIR.name, at.reviews)


def marks_file(at: Desk) -> str:
    """The marks that the files do not have yet, and those that they still have and that were taken back."""
    in_files = at.book.reviews
    new = [one for one in at.reviews.signed if in_files.of(one.source, one.target) != one]
    back = [one for one in in_files.signed if at.reviews.of(one.source, one.target) is None]
    return as_toml(new, back)
