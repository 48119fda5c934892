"""A sheet for a reviewer without a computer: numbered texts in the language with empty lines, and its key apart.

Whoever reads the sheet writes what each text says in his or her own words, without having seen the English; somebody
else lays the key beside it. Print pages, because a browser has the letters of every language. The numbers are those of
the whole language, so that a sheet and a key of another choice agree.
"""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from guide_service.console import texts
from guide_service.console.access import ServiceDep, TranslatorDep
from guide_service.console.pages import page
from guide_service.console.text_choice import Choice
from guide_service.console.text_page import form_names
from guide_service.console.text_routes import OF, ChoiceDep, LanguageDep
from guide_service.database import reading
from guide_service.wiring import Service
from guide_service.wording.book import Piece
from guide_service.wording.catalogue import SOURCE_LANGUAGE
from guide_service.wording.formats import direction
from guide_service.wording.plurals import plural_categories, plural_index
from guide_service.wording.scenes import examples

router = APIRouter(include_in_schema=False)
CHARACTERS_A_LINE = 45
"""Of handwriting, about."""


@dataclass(frozen=True, slots=True)
class Item:
    number: int
    piece: Piece
    words: tuple[tuple[str, str], ...]
    """(for which counts, the text with example values) of each form."""
    english: tuple[str, ...]
    lines: int
    """To write on."""


@router.get(f"{OF}/sheet")
def sheet(
    request: Request, service: ServiceDep, who: TranslatorDep, language: LanguageDep, choice: ChoiceDep
) -> Response:
    return _page(request, service, who, "text_sheet.html", language, choice)


@router.get(f"{OF}/key")
def key(
    request: Request, service: ServiceDep, who: TranslatorDep, language: LanguageDep, choice: ChoiceDep
) -> Response:
    return _page(request, service, who, "text_key.html", language, choice)


def _page(request: Request, service: Service, who: TranslatorDep, name: str, language: str, choice: Choice) -> Response:
    with reading(service.engine) as session:
        at = texts.desk(session, service, language)
    items = [
        _item(service, at, number, piece)
        for number, piece in enumerate(at.pieces, 1)
        if any(piece.target) and choice.matches(piece)
    ]
    return page(
        request,
        service,
        name,
        who,
        here="texts",
        language=language,
        dir=direction(language),
        choice=choice,
        items=items,
    )


def _item(service: Service, at: texts.Desk, number: int, piece: Piece) -> Item:
    language = at.book.language
    cats = service.catalogues.with_text(language, piece.context, piece.target)
    own = examples(piece.entry, language, cats, _a_count_of_each_form(language, piece))
    english = examples(piece.entry, SOURCE_LANGUAGE, cats, _a_count_of_each_form(SOURCE_LANGUAGE, piece))
    length = max(map(len, english), default=0)
    names = form_names(at.book, piece.entry)
    return Item(number, piece, tuple(zip(names, own, strict=True)), tuple(english), 2 + length // CHARACTERS_A_LINE)


def _a_count_of_each_form(language: str, piece: Piece) -> list[int | None]:
    if len(piece.entry.forms) == 1:
        return [None]
    forms = range(len(plural_categories(language)))
    return [next((n for n in range(1, 1001) if plural_index(language, n) == form), 0) for form in forms]
