"""The type of every paper: its files, and which characters it has."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from fontTools.ttLib import TTFont  # type: ignore[import-untyped]
from fpdf import FPDF

FAMILY = "DejaVu"
FONTS = Path(__file__).parents[1] / "fonts"
_FILES = {"": "DejaVuSans.ttf", "B": "DejaVuSans-Bold.ttf"}


def add_fonts(pdf: FPDF) -> None:
    for style, name in _FILES.items():
        pdf.add_font(FAMILY, style, FONTS / name)


def lacking(text: str) -> frozenset[str]:
    """The characters of ``text`` that our font has no shape for."""
    return frozenset(character for character in text if not character.isspace() and ord(character) not in _shapes())


@cache
def _shapes() -> frozenset[int]:
    return frozenset.intersection(*map(_shapes_of, _FILES.values()))


def _shapes_of(name: str) -> frozenset[int]:
    with TTFont(FONTS / name) as font:
        return frozenset(font.getBestCmap())
