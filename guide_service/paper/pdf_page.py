"""A page of paper for the card and the log sheet: large type, boxes and columns, mirrored where a language is."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

from fpdf import FPDF
from fpdf.enums import MethodReturnValue, TextDirection, XPos, YPos

from guide_service.paper import drawing
from guide_service.paper.fonts import FAMILY, add_fonts
from guide_service.paper.sheets import Head

READ_FROM_AFAR = 14.0
"""The smallest type of the card [pt]: where large print begins (common practice)."""
HEADING, TITLE = 16.0, 24.0
MARGIN = 10.0
_MM_PER_PT = 25.4 / 72
_LEADING = 1.2


class PdfSheet:
    """Text runs down the page in the direction of the language; ``at`` is measured from where reading begins [mm]."""

    def __init__(self, size: str, head: Head) -> None:
        self.rtl = head.rtl
        self.pdf = FPDF(orientation="portrait", unit="mm", format=size)
        add_fonts(self.pdf)
        self.pdf.set_margin(MARGIN)
        self.pdf.set_auto_page_break(True, MARGIN)
        self.pdf.set_text_shaping(True, direction=TextDirection.RTL if head.rtl else TextDirection.LTR)
        self.pdf.set_title(head.title)
        self.pdf.set_lang(head.language)
        self.pdf.c_margin = 0
        self.pdf.add_page()

    def bytes(self) -> bytes:
        return bytes(self.pdf.output())

    # where we are
    @property
    def room(self) -> float:
        """Width between the margins."""
        return float(self.pdf.epw)

    @property
    def y(self) -> float:
        return float(self.pdf.get_y())

    @y.setter
    def y(self, value: float) -> None:
        self.pdf.set_y(value)

    @property
    def left_below(self) -> float:
        """Height left on this page."""
        return float(self.pdf.h) - MARGIN - self.y

    def need(self, height: float) -> None:
        """What belongs together is not torn apart by the end of a page."""
        if height > self.left_below:
            self.pdf.add_page()

    def _from_the_left(self, at: float, width: float) -> float:
        return float(self.pdf.w) - MARGIN - at - width if self.rtl else MARGIN + at

    # words
    def text(
        self,
        words: str,
        *,
        size: float = READ_FROM_AFAR,
        bold: bool = False,
        at: float = 0.0,
        width: float | None = None,
        end: bool = False,
    ) -> None:
        """A paragraph; ``end`` sets it against the side where a line ends. Two asterisks mark bold words."""
        width = self.room - at if width is None else width
        self._font(size, bold)
        self.pdf.set_x(self._from_the_left(at, width))
        align = "R" if end != self.rtl else "L"
        step = size * _MM_PER_PT * _LEADING
        self.pdf.multi_cell(width, step, words, align=align, markdown=True, new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def height_of(self, words: str, width: float, *, size: float = READ_FROM_AFAR, bold: bool = False) -> float:
        self._font(size, bold)
        step = size * _MM_PER_PT * _LEADING
        height = self.pdf.multi_cell(width, step, words, markdown=True, dry_run=True, output=MethodReturnValue.HEIGHT)
        assert isinstance(height, float | int)  # what was asked for
        return float(height)

    def width_of(self, words: str, *, size: float = READ_FROM_AFAR, bold: bool = False) -> float:
        self._font(size, bold)
        return float(self.pdf.get_string_width(words)) + 0.5

    def top(self, head: Head) -> None:
        """Title and office on the side where reading begins, the number to text on the other."""
        wide = max(self.width_of(head.number, size=TITLE, bold=True), self.width_of(head.text_us))
        start = self.y
        self.text(head.text_us, at=self.room - wide, width=wide, end=True)
        self.text(head.number, size=TITLE, bold=True, at=self.room - wide, width=wide, end=True)
        low = self.y
        self.y = start
        self.text(head.title, size=TITLE, bold=True, width=self.room - wide - 5)
        self.text(head.office, width=self.room - wide - 5)
        self.y = max(low, self.y) + 2
        self.rule(0, self.y, self.room, 1.0)
        self.y += 3

    def heading(self, words: str) -> None:
        self.y += 2.5
        self.need(20)
        self.text(words, size=HEADING, bold=True)
        self.y += 0.5

    def item(self, words: str) -> None:
        """A point of a list."""
        self.need(self.height_of(words, self.room - 6))
        top = self.y
        self.text("\N{BULLET}", width=6)
        self.y = top
        self.text(words, at=6)
        self.y += 0.5

    def boxed(self, words: str) -> None:
        self.y += 1.5
        height = self.height_of(words, self.room - 6, bold=True) + 4
        self.need(height)
        self.frame(0, self.y, self.room, height, 0.7)
        self.y += 2
        self.text(words, bold=True, at=3, width=self.room - 6)
        self.y += 3.5

    def columns(self, texts: Sequence[tuple[str, float, bool]], gap: float = 0.8) -> None:
        """Texts side by side, each with its width and whether it is bold."""
        height = max(self.height_of(words, width, bold=bold) for words, width, bold in texts)
        self.need(height + 2 * gap)
        top, at = self.y + gap, 0.0
        for words, width, bold in texts:
            self.y = top
            self.text(words, at=at, width=width, bold=bold)
            at += width
        self.y = top + height + gap

    def _font(self, size: float, bold: bool) -> None:
        self.pdf.set_font(FAMILY, "B" if bold else "", size)

    # lines and pictures
    def frame(self, at: float, y: float, width: float, height: float, thick: float = 0.3) -> None:
        self.pdf.set_line_width(thick)
        self.pdf.rect(self._from_the_left(at, width), y, width, height)

    def rule(self, at: float, y: float, width: float, thick: float = 0.3) -> None:
        self.pdf.set_line_width(thick)
        x = self._from_the_left(at, width)
        self.pdf.line(x, y, x + width, y)

    def picture(self, elements: str, at: float, width: float, size: tuple[int, int]) -> float:
        """Draw SVG elements beside what comes next; how high they came out."""
        height = width * size[1] / size[0]
        image = BytesIO(drawing.svg(elements, *size).encode())
        self.pdf.image(image, x=self._from_the_left(at, width), y=self.y, w=width, h=height)
        return height
