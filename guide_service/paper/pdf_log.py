"""The log sheet as PDF: as many lines as the page holds, each high enough for a pencil."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate

from guide_service.paper.pdf_page import READ_FROM_AFAR, PdfSheet
from guide_service.paper.sheets import LogSheet

LINE = 9.5
"""Height of a line to write on [mm]: a pencil and a cold hand need more than a form's 6 to 7 mm (common practice)."""
_HEAD = 9.5
"""Type of the heads of columns [pt]."""
_SHARES = (0.11, 0.09, 0.118, 0.118, 0.118, 0.15, 0.116, 0.095, 0.085)
"""Of the width, by column."""


def log_pdf(log: LogSheet, size: str) -> bytes:
    sheet = PdfSheet(size, log.head)
    sheet.top(log.head)
    _to_fill_in(sheet, log)
    below = (*log.lines, log.no_certificate)
    foot = sum(sheet.height_of(line, sheet.room) + 1 for line in below) + 4
    _table(sheet, log, foot)
    sheet.y += 2
    for line in below:
        sheet.text(line, bold=line == log.no_certificate)
        sheet.y += 1
    return sheet.bytes()


def _to_fill_in(sheet: PdfSheet, log: LogSheet) -> None:
    half = sheet.room - 30
    for blanks in (((log.whose, 0.0, sheet.room),), ((log.meter, 0.0, half - 4), (log.page, half, 30.0))):
        sheet.y += 3
        start = sheet.y
        for words, at, width in blanks:
            sheet.y = start
            wide = sheet.width_of(words)
            sheet.text(words, at=at, width=width)  # a word of it never falls into the line below
            sheet.rule(at + wide + 2, start + READ_FROM_AFAR * 0.4, width - wide - 2)
        sheet.y = start + 7
    sheet.y += 1


def _table(sheet: PdfSheet, log: LogSheet, foot: float) -> None:
    widths = _widths(sheet, log.columns)
    starts = [0.0, *accumulate(widths)]
    head = max(sheet.height_of(c, w - 2, size=_HEAD, bold=True) for c, w in zip(log.columns, widths, strict=True)) + 2
    _row(sheet, starts, widths, head)
    for column, at, width in zip(log.columns, starts, widths, strict=False):
        start = sheet.y
        sheet.y = start + head - 1 - sheet.height_of(column, width - 2, size=_HEAD, bold=True)
        sheet.text(column, size=_HEAD, bold=True, at=at + 1, width=width - 2)
        sheet.y = start
    sheet.y += head
    for _ in range(int((sheet.left_below - foot) // LINE)):
        _row(sheet, starts, widths, LINE)
        sheet.frame(starts[-2] + (widths[-1] - 5) / 2, sheet.y + (LINE - 5) / 2, 5, 5)
        sheet.y += LINE


def _widths(sheet: PdfSheet, heads: Sequence[str]) -> list[float]:
    """Of the columns [mm]: their shares, and at least the longest word of the head; the others make room for it."""
    shares = [share * sheet.room for share in _SHARES]
    words = [max(sheet.width_of(word, size=_HEAD, bold=True) for word in head.split()) + 2 for head in heads]
    short = sum(max(word - share, 0.0) for word, share in zip(words, shares, strict=True))
    spare = [max(share - word, 0.0) for word, share in zip(words, shares, strict=True)]
    return [
        max(word, share) - short * left / sum(spare) for word, share, left in zip(words, shares, spare, strict=True)
    ]


def _row(sheet: PdfSheet, starts: list[float], widths: list[float], height: float) -> None:
    for at, width in zip(starts, widths, strict=False):
        sheet.frame(at, sheet.y, width, height)
