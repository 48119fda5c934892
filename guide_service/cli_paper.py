"""``paper``: the instruction card and the log sheet, for the printer."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from guide_service.settings import get_settings


class Form(StrEnum):
    PDF = "pdf"
    HTML = "html"


class Size(StrEnum):
    LETTER = "letter"
    A4 = "a4"


def paper(
    language: Annotated[
        list[str] | None, typer.Option(help="Language code, such as es; may be repeated. Without it: all offered.")
    ] = None,
    form: Annotated[Form, typer.Option("--format", help="A PDF, or a page for a browser to print.")] = Form.PDF,
    size: Annotated[Size, typer.Option(help="Size of the paper.")] = Size.LETTER,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Where the files go; made if need be.")] = Path("paper"),
) -> None:
    """Print the large-print card (where the pins go, what to text) and the log sheet of each language."""
    from guide_service.paper import making

    made_from = making.source(get_settings(), language or ())
    unknown = [code for code in made_from.catalogues.languages if _no_catalogue(code)]
    if unknown:
        print(f"guide_service: no texts in {', '.join(unknown)} (locales/<language>)", file=sys.stderr)
        raise typer.Exit(2)
    for code in made_from.catalogues.languages:
        for made in making.make(made_from, code, form, size, out):
            print(f"written: {made.path}")
            if made.no_glyphs:
                print(f"{code}: the font of the PDF cannot write it: a page for a browser to print instead")
        if missing := making.untranslated(made_from, code):
            print(f"{code}: {missing} sentences are in English: python -m guide_service locales check {code}")


def _no_catalogue(language: str) -> bool:
    from guide_service.settings import LOCALES_DIR
    from guide_service.wording.catalogue import catalogue_path

    return not catalogue_path(LOCALES_DIR, language).is_file()
