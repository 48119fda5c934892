"""The sheets as print pages: one self-contained HTML file each, right to left where the language is."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from guide_service.paper import drawing
from guide_service.paper.sheets import Card, LogSheet

LOG_LINES = 15


def card_page(card: Card, size: str) -> str:
    return _environment().get_template("card.html").render(card=card, head=card.head, size=size)


def log_page(log: LogSheet, size: str) -> str:
    return _environment().get_template("log.html").render(log=log, head=log.head, size=size, rows=range(LOG_LINES))


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["stud_bay"] = Markup(drawing.stud_bay())
    environment.globals["band_mark"] = lambda band: Markup(drawing.band_mark(band))
    return environment
