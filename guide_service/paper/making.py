"""From the settings to files in a folder: the card and the log sheet of each language, as PDF or as print page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import astuple, dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import inspect

from guide_service.county import County, read_county
from guide_service.county_decided import Rules
from guide_service.database import make_engine
from guide_service.in_force import InForce
from guide_service.paper import print_page
from guide_service.paper.fonts import lacking
from guide_service.paper.pdf_card import card_pdf
from guide_service.paper.pdf_log import log_pdf
from guide_service.paper.sheets import Card, LogSheet, Source, card, log_sheet
from guide_service.settings import FLOWS_DIR, LOCALES_DIR, Settings
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.messages import load_messages


@dataclass(frozen=True, slots=True)
class Made:
    path: Path
    language: str
    no_glyphs: bool = False
    """A PDF was asked for, but our font cannot write the language: it is a print page instead."""


def source(settings: Settings, languages: Sequence[str] = ()) -> Source:
    """What sheets are made from; without ``languages`` those that the county offers."""
    county = read_county(settings.county_path)
    messages = load_messages(FLOWS_DIR)
    catalogues = Catalogues.load(LOCALES_DIR, messages, languages or county.languages)
    rules = _rules(settings, county)
    return Source(catalogues, rules.decided.applied_to(county), rules.policy, settings.number)


def untranslated(made_from: Source, language: str) -> int:
    """How many of the sheets' sentences are in English for want of a translation."""
    return sum(
        1 for lack in made_from.catalogues.missing if lack.language == language and lack.context.startswith("paper.")
    )


def make(made_from: Source, language: str, form: str, size: str, folder: Path) -> Iterator[Made]:
    """Write card and log sheet of one language; gives each as it is written."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, sheet in (("card", card(made_from, language)), ("log", log_sheet(made_from, language))):
        no_glyphs = form == "pdf" and bool(lacking("".join(_strings(astuple(sheet)))))
        as_page = form == "html" or no_glyphs
        path = folder / f"{name}-{language}-{size}.{'html' if as_page else 'pdf'}"
        path.write_bytes(_page(sheet, size).encode() if as_page else _pdf(sheet, size))
        yield Made(path, language, no_glyphs)


def _page(sheet: Card | LogSheet, size: str) -> str:
    return print_page.card_page(sheet, size) if isinstance(sheet, Card) else print_page.log_page(sheet, size)


def _pdf(sheet: Card | LogSheet, size: str) -> bytes:
    return card_pdf(sheet, size) if isinstance(sheet, Card) else log_pdf(sheet, size)


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for part in value:
            yield from _strings(part)


def _rules(settings: Settings, county: County) -> Rules:
    """Those in force; the county file's before there is a database (a card may be printed before the start)."""
    file = settings.database.removeprefix("sqlite:///") if settings.database.startswith("sqlite") else None
    if file is not None and not Path(file).is_file():
        return Rules.of(county)
    engine = make_engine(settings.database)
    try:
        if not inspect(engine).get_table_names():
            return Rules.of(county)
        in_force = InForce(engine, county)
        in_force.look()
        return in_force.rules
    finally:
        engine.dispose()
