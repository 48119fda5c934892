"""The card as PDF: how to measure on the front; what it means, what to text and what to keep away from on the back."""

from __future__ import annotations

from guide_service.paper import drawing
from guide_service.paper.pdf_page import TITLE, PdfSheet
from guide_service.paper.sheets import Card

_PICTURE, _BESIDE = 76.0, 82.0
"""Width of the drawing, and where the list beside it begins [mm]."""
_BADGE = 4.0
_MARK, _AFTER_MARK = 9.0, 13.0


def card_pdf(card: Card, size: str) -> bytes:
    sheet = PdfSheet(size, card.head)
    sheet.top(card.head)
    _spots(sheet, card)
    sheet.text(f"{card.picture} {card.grain}")
    sheet.heading(card.how_title)
    for step in card.how:
        sheet.item(step)
    _send(sheet, card)
    sheet.pdf.add_page()
    _meaning(sheet, card)
    _commands(sheet, card)
    _care(sheet, card)
    return sheet.bytes()


def _spots(sheet: PdfSheet, card: Card) -> None:
    start = sheet.y
    low = start + sheet.picture(drawing.stud_bay(), 0, _PICTURE, (drawing.WIDTH, drawing.HEIGHT))
    for number, (name, how) in enumerate(card.spots, 1):
        _badge(sheet, number)
        sheet.text(name, bold=True, at=_BESIDE + 3 * _BADGE)
        sheet.text(how, at=_BESIDE + 3 * _BADGE)
        sheet.y += 1.5
    sheet.y = max(low, sheet.y) + 2


def _badge(sheet: PdfSheet, number: int) -> None:
    start = sheet.y
    sheet.picture(drawing.badge(number), _BESIDE, 2 * _BADGE, (36, 36))
    sheet.y = start


def _send(sheet: PdfSheet, card: Card) -> None:
    sheet.heading(card.send_title)
    wide = sheet.width_of(card.example, size=TITLE, bold=True) + 10
    sheet.frame(0, sheet.y, wide, 12, 0.7)
    sheet.y += 1.2
    sheet.text(card.example, size=TITLE, bold=True, at=5, width=wide - 5)
    sheet.y += 2
    for line in (*card.send, card.or_call):
        sheet.text(line)
        sheet.y += 0.7


def _meaning(sheet: PdfSheet, card: Card) -> None:
    sheet.heading(card.meaning_title)
    word = max(sheet.width_of(line.word, bold=True) for line in card.bands) + 4
    span = max(sheet.width_of(line.range, bold=True) for line in card.bands) + 4
    rest = sheet.room - _AFTER_MARK - word - span
    for line in card.bands:
        height = max(_MARK, sheet.height_of(line.do, rest)) + 2
        sheet.need(height)
        sheet.rule(0, sheet.y, sheet.room)
        start = sheet.y + 1
        sheet.y = start
        sheet.picture(drawing.band_mark(line.band), 0, _MARK, (24, 24))
        sheet.columns(
            (("", _AFTER_MARK, False), (line.word, word, True), (line.range, span, True), (line.do, rest, False))
        )
        sheet.y = start + height - 1
    sheet.rule(0, sheet.y, sheet.room)
    sheet.boxed(card.wait)


def _commands(sheet: PdfSheet, card: Card) -> None:
    sheet.heading(card.words_title)
    word = max(sheet.width_of(command, bold=True) for command, _ in card.commands) + 6
    for command, meaning in card.commands:
        sheet.columns(((command, word, True), (meaning, sheet.room - word, False)), 0.4)


def _care(sheet: PdfSheet, card: Card) -> None:
    sheet.heading(card.care_title)
    for word, what in card.care:
        sheet.item(f"**{word}:** {what}")
    sheet.boxed(card.emergency)
    sheet.text(card.no_certificate)
