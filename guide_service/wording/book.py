"""The texts of one language as its files have them, and what somebody has since written or signed on top of them.

A ``Book`` is what stands in ``locales/<language>``; a ``Change`` is the newest work on one text that is not there yet.
``pieces`` lays one over the other: what a translator sees, and what an export holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from guide_service.wording.catalogue import Forms, Sourced, as_forms, catalogue_path, is_outdated, read_catalogue
from guide_service.wording.catalogue_files import earlier_english
from guide_service.wording.checking import Problem, translation_problems
from guide_service.wording.commands import Commands, commands_of
from guide_service.wording.gsm import without_controls
from guide_service.wording.plurals import plural_categories
from guide_service.wording.reviews import Reviews, Signed, read_reviews
from guide_service.wording.room import Texts, allowed_segments, most_segments
from guide_service.wording.segments import Segments

LACKING, CHANGED, UNSIGNED, SIGNED = "lacking", "changed", "unsigned", "signed"


@dataclass(frozen=True)
class Book:
    """The texts of a language as they stand in its files."""

    language: str
    entries: Mapping[str, Sourced]
    """By context, in the order of the flow files."""
    texts: Texts
    """What the catalogue has for each, whatever English it was made for."""
    outdated: Mapping[str, Forms]
    """Contexts of translations that were made for an earlier English text, and that text."""
    reviews: Reviews
    commands: Commands

    @cached_property
    def segments(self) -> Mapping[str, Segments]:
        """Of the longest form of each text, with the longest values in its places."""
        found = {context: most_segments(self.entries[context], self.language, self.texts) for context in self.entries}
        return {context: counted for context, counted in found.items() if counted is not None}

    def form_count(self, context: str) -> int:
        return len(plural_categories(self.language)) if len(self.entries[context].forms) > 1 else 1


@dataclass(frozen=True, slots=True)
class Change:
    """The newest work on one text."""

    context: str
    version: int
    source: Forms
    target: Forms


@dataclass(frozen=True)
class Piece:
    """One text as it stands at the desk."""

    entry: Sourced
    target: Forms
    """The newest translation; empty where there is none."""
    source: Forms
    """The English text that it was made for."""
    state: str
    """``lacking``, ``changed`` (its English text is newer), ``unsigned`` or ``signed``."""
    signed: Signed | None
    last: Signed | None
    """What was signed last: it stays in use until this one is signed."""
    waiting: bool
    """Not in the catalogue yet."""
    version: int
    segments: Segments | None
    allowed: int

    @property
    def context(self) -> str:
        return self.entry.context

    @property
    def safety(self) -> bool:
        return self.entry.message.critical

    @property
    def counted(self) -> bool:
        """Whether it travels as a text message, in segments."""
        return not (self.entry.spoken or self.entry.message.printed)

    @property
    def too_long(self) -> bool:
        return self.counted and self.segments is not None and self.segments.count > self.allowed

    @property
    def changed_since_signed(self) -> bool:
        return self.signed is None and self.last is not None


def read_book(entries: Iterable[Sourced], locales_dir: Path, language: str) -> Book:
    """Raises ``FileNotFoundError`` for a language without a catalogue, and what Babel and reviews raise for damage."""
    known = {entry.context: entry for entry in entries}
    catalogue = {str(e.context): e for e in read_catalogue(catalogue_path(locales_dir, language)) if e.context in known}
    texts = {
        context: as_forms(e.string)
        for context, e in catalogue.items()
        if all(as_forms(e.string)) and (is_outdated(e) or not e.fuzzy)
    }
    outdated = {
        context: earlier_english(e) or as_forms(e.id)
        for context, e in catalogue.items()
        if context in texts and (e.fuzzy or as_forms(e.id) != known[context].forms)
    }
    return Book(
        language, known, texts, outdated, read_reviews(locales_dir, language), commands_of(locales_dir, language)
    )


def pieces(book: Book, changes: Mapping[str, Change], reviews: Reviews) -> tuple[Piece, ...]:
    """Every text of the language, safety texts first. ``reviews``: with the marks given and taken back since."""
    found = [piece(book, changes.get(context), reviews, context) for context in book.entries]
    return tuple(sorted(found, key=lambda one: not one.safety))


def piece(book: Book, change: Change | None, reviews: Reviews, context: str) -> Piece:
    entry, in_file = book.entries[context], book.texts.get(context, ())
    target = change.target if change else in_file
    source = change.source if change else book.outdated.get(context, entry.forms)
    segments = book.segments.get(context)
    if change and change.target != in_file:
        segments = most_segments(entry, book.language, {**book.texts, context: target})
    signed = reviews.of(entry.forms, target) if target else None
    return Piece(
        entry=entry,
        target=target,
        source=source,
        state=LACKING if not any(target) else CHANGED if source != entry.forms else SIGNED if signed else UNSIGNED,
        signed=signed,
        last=None if signed else reviews.last(context, entry.forms),
        waiting=change is not None and (change.target != in_file or context in book.outdated),
        version=change.version if change else 0,
        segments=segments,
        allowed=allowed_segments(entry.message.budget, book.language),
    )


def problems(book: Book, context: str, target: Forms) -> tuple[Problem, ...]:
    """What ``locales check`` would have against this translation."""
    entry = book.entries[context]
    if len(target) != book.form_count(context) or not all(form.strip() for form in target):
        return (Problem("plural forms", book.language, context, entry.message.place, "a form is empty"),)
    texts = {**book.texts, context: target}
    return tuple(translation_problems(entry, target, book.language, texts, book.commands))


def tidy(text: str) -> str:
    """A translation as it is kept: no blanks around it, one kind of line break, nothing that cannot be seen."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").strip().split("\n")
    return "\n".join(without_controls(line).rstrip() for line in lines)
