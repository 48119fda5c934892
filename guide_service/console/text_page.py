"""What the page of one text shows: English and translation, the places, room, a conversation, history."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from markupsafe import Markup, escape
from sqlmodel import Session

from guide_service.console.catalogue import N_
from guide_service.console.household_page import ALPHABET
from guide_service.console.roles import TRANSLATING
from guide_service.console.text_choice import STATES, Choice, neighbours
from guide_service.console.texts import Desk
from guide_service.records.text_draft import drafts_of
from guide_service.settings import LOCALES_DIR
from guide_service.wiring import Service
from guide_service.wording.book import Book, Piece, problems
from guide_service.wording.catalogue import SOURCE_LANGUAGE, Catalogues, Forms, Sourced
from guide_service.wording.checking import Problem
from guide_service.wording.commands import lacking
from guide_service.wording.formats import direction
from guide_service.wording.plurals import plural_categories, plural_index
from guide_service.wording.room import longest_value
from guide_service.wording.scenes import FILE_NAME, Line, alone, example, in_words, read_scenes
from guide_service.wording.template import placeholders

ROLES = {
    "community translator": N_("community translator"),
    "interpreter": N_("interpreter"),
    "bilingual member of the office": N_("bilingual member of the office"),
    "resident who speaks it": N_("resident who speaks it"),
}
"""In which somebody vouches. A list, because a name may not stand in the catalogue."""
KINDS = {
    "placeholders": N_("Places"),
    "plural forms": N_("Forms"),
    "form": N_("Signs"),
    "character": N_("A character that may not stand here"),
    "carrier keyword": N_("A word that the carrier takes for itself"),
    "command": N_("A command"),
    "budget": N_("Too long"),
}
ACTS = {"draft": N_("saved"), "reviewed": N_("signed"), "taken_back": N_("mark taken back")}
_PLACE = re.compile(r"%\(\w+\)s|%%")
_EXAMPLE_COUNTS = (*range(13), 20, 21, 100)


@dataclass
class Trouble:
    """What stands against what was sent, and what was typed."""

    typed: Forms | None = None
    problems: tuple[Problem, ...] = field(default=())
    meanwhile: bool = False


def shown_text(
    session: Session, service: Service, at: Desk, piece: Piece, choice: Choice, trouble: Trouble
) -> dict[str, Any]:
    book, entry, language = at.book, piece.entry, at.book.language
    before, after = neighbours(at.pieces, choice, piece.context)
    target = trouble.typed if trouble.typed is not None else piece.target or ("",) * book.form_count(piece.context)
    return {
        "language": language,
        "dir": direction(language),
        "piece": piece,
        "entry": entry,
        "states": STATES,
        "kinds": KINDS,
        "acts": ACTS,
        "roles": ROLES,
        "works_here": TRANSLATING,
        "before": before,
        "after": after,
        "forms": list(zip(target, form_names(book, entry), strict=False)),
        "trouble": trouble,
        "standing_problems": problems(book, piece.context, piece.target) if any(piece.target) else (),
        "in_use": _in_use(service, language, piece),
        "in_catalogue": book.texts.get(piece.context, ()),
        "places": _places(service, book, entry),
        "with_places": with_places,
        "values": {name: longest_value(name, piece.context, language, book.texts) for name in _names(entry)},
        "commands": lacking(entry.forms, (), book.commands),
        "alphabet": ALPHABET,
        "talks": _talks(service, language, piece),
        "history": drafts_of(session, language, piece.context)[:12],
    }


def _in_use(service: Service, language: str, piece: Piece) -> Forms:
    return service.catalogues.forms(language, piece.context)


def form_names(book: Book, entry: Sourced) -> list[str]:
    """For which counts each form is said; one empty name where there is one form."""
    if len(entry.forms) == 1:
        return [""]
    categories = plural_categories(book.language)
    by_form = {
        index: [n for n in _EXAMPLE_COUNTS if plural_index(book.language, n) == index]
        for index in range(len(categories))
    }
    return [", ".join(map(str, by_form[index][:6])) for index in range(len(categories))]  # fmt: skip


def _names(entry: Sourced) -> list[str]:
    return sorted(frozenset().union(*map(placeholders, entry.forms)))


def _places(service: Service, book: Book, entry: Sourced) -> list[tuple[str, str, str]]:
    """(place, a usual value, the longest one)."""
    language = book.language
    return [
        (name, example(name, language, service.catalogues), longest_value(name, entry.context, language, book.texts))
        for name in _names(entry)
    ]


def with_places(text: str) -> Markup:
    """A text with its places kept in one piece, whichever way the words around them run."""
    return Markup(_PLACE.sub(r'<bdi dir="ltr">\g<0></bdi>', str(escape(text))))


def _talks(service: Service, language: str, piece: Piece) -> list[dict[str, Any]]:
    """A conversation in which the text is said, in English and as it would read: side by side."""
    entry, cats = piece.entry, service.catalogues
    if any(piece.target):
        cats = cats.with_text(language, piece.context, piece.target)
    recorded = read_scenes(LOCALES_DIR / FILE_NAME).get(entry.message.id)
    spoken = entry.spoken or entry.message.printed
    for scene in filter(None, (recorded, alone(entry))):
        columns = [_words(scene, entry, each, cats, spoken) for each in (SOURCE_LANGUAGE, language)]
        if all(columns):
            return [
                {"language": each, "dir": direction(each), "turns": turns}
                for each, turns in zip((SOURCE_LANGUAGE, language), columns, strict=True)
            ]
    return []


def _words(
    scene: Any, entry: Sourced, language: str, cats: Catalogues, spoken: bool
) -> list[tuple[str | None, list[Line]]] | None:
    return in_words(scene, entry.message.id, language, cats, spoken=spoken)
