"""The drying log as PDF: tables that run over pages, plots drawn as lines, a number and a page on each."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from xml.etree import ElementTree

from fpdf import FPDF
from fpdf.fonts import FontFace

from guide_service.console.catalogue import N_, gettext, language, ngettext
from guide_service.console.log_values import (
    CAUTIONS,
    HOW_TO_READ,
    SIGNATURES,
    LogCheck,
    LogPolicy,
    LogSheet,
    LogVerdict,
)
from guide_service.paper.fonts import FAMILY, add_fonts, lacking

SIZES = ("a4", "letter")
MARGIN = 14.0
SMALL, PLAIN, HEAD, TITLE = 7.5, 9.0, 11.5, 17.0
GAP = 5.0
"""Between two plots of a row [mm]."""
MISSING = "\N{WHITE SQUARE}"
_SVG = "{http://www.w3.org/2000/svg}"
_GREY = (225, 225, 220)
READING_COLUMNS = (N_("Place"), N_("Point"), N_("Material"), N_("Number"), N_("As typed"), N_("Taken by"),
                   N_("Arrived"), N_("State"))  # fmt: skip
VERDICT_COLUMNS = (N_("Place"), N_("Band"), N_("Reasons"), N_("Policy"), N_("Told"))
SQUARES = N_("%(mark)s stands for a character that this paper's type lacks; the page on a screen shows it.")


def log_pdf(sheet: LogSheet, size: str) -> bytes:
    pdf = _Pdf(sheet, size)
    pdf.add_page()
    _top(pdf, sheet)
    for check in sheet.checks:
        _check(pdf, check)
    _plots(pdf, sheet)
    for policy in sheet.policies:
        _policy(pdf, policy)
    _signatures(pdf)
    if pdf.lacked:
        pdf.words(gettext(SQUARES) % {"mark": MISSING}, SMALL)
    return bytes(pdf.output())


class _Pdf(FPDF):
    def __init__(self, sheet: LogSheet, size: str) -> None:
        super().__init__(orientation="portrait", unit="mm", format=size)
        self.sheet, self.lacked = sheet, False
        add_fonts(self)
        self.set_margin(MARGIN)
        self.set_auto_page_break(True, MARGIN + 4)
        self.set_text_shaping(True)
        self.set_font(FAMILY, "", PLAIN)
        self.set_title(gettext("Drying log %(number)s") % {"number": sheet.number})
        self.set_lang(language())

    def footer(self) -> None:
        self.set_y(-MARGIN)
        self.set_font(FAMILY, "", SMALL)
        foot = gettext("Drying log %(number)s, %(made)s. Not a certificate. Page %(page)s") % {
            "number": self.sheet.number, "made": self.sheet.made, "page": self.page_no()}  # fmt: skip
        self.cell(0, 4, self.printable(foot), align="C")

    def printable(self, text: str) -> str:
        """With a square for what the font has no shape for: a name never stops the paper."""
        plain = "".join(" " if each.isspace() else each for each in text if each.isprintable() or each.isspace())
        missing = lacking(plain)
        self.lacked = self.lacked or bool(missing)
        return "".join(MISSING if each in missing else each for each in plain)

    def words(self, text: str, size: float = PLAIN, *, bold: bool = False) -> None:
        self.set_font(FAMILY, "B" if bold else "", size)
        self.multi_cell(0, size * 0.48, self.printable(text), align="L", new_x="LMARGIN", new_y="NEXT")

    def heading(self, text: str, room: float = 30) -> None:
        """Not alone at the foot of a page."""
        if self.will_page_break(room):
            self.add_page()
        self.ln(3)
        self.words(text, HEAD, bold=True)
        self.ln(0.5)

    def grid(self, columns: Sequence[str], rows: Sequence[tuple[Sequence[str], bool]], shares: Sequence[int]) -> None:
        """A table whose head comes again on each page; rows that do not count are grey."""
        self.set_font(FAMILY, "", SMALL)
        head = FontFace(emphasis="BOLD")
        with self.table(col_widths=tuple(shares), line_height=SMALL * 0.46, text_align="L", headings_style=head,
                        padding=0.6) as table:  # fmt: skip
            table.row([gettext(each) for each in columns])
            for cells, counts in rows:
                style = None if counts else FontFace(fill_color=_GREY)
                table.row([self.printable(cell) for cell in cells], style=style)
        self.ln(1.5)


def _top(pdf: _Pdf, sheet: LogSheet) -> None:
    pdf.words(gettext("Drying log %(number)s") % {"number": sheet.number}, TITLE, bold=True)
    pdf.words(f"{sheet.address}, {sheet.area}", HEAD)
    pdf.words(f"{sheet.office}, {sheet.call_back}. {gettext('As of %(made)s') % {'made': sheet.made}}")
    pdf.ln(2)
    top = pdf.get_y()
    pdf.set_x(MARGIN)
    for number, caution in enumerate(CAUTIONS):
        pdf.words(gettext(caution), bold=number == 0)
        pdf.ln(0.6)
    pdf.set_line_width(0.6)
    pdf.line(MARGIN - 3, top, MARGIN - 3, pdf.get_y())
    pdf.set_line_width(0.2)
    _walls(pdf, sheet)
    pdf.words(gettext(HOW_TO_READ), SMALL)


def _walls(pdf: _Pdf, sheet: LogSheet) -> None:
    pdf.heading(gettext("Walls and places"))
    for wall in sheet.walls:
        bays = (
            ngettext("%(num)s open bay", "%(num)s open bays", wall.bays) % {"num": wall.bays}
            if wall.bays
            else gettext("open bays not known")
        )
        pdf.words(f"{wall.name} ({bays}): {wall.places or gettext('no places')}")
        for answer in wall.answers:
            pdf.words(answer, SMALL)
    for note in sheet.notes:
        pdf.words(note, bold=True)


def _check(pdf: _Pdf, check: LogCheck) -> None:
    pdf.heading(gettext("Check of %(day)s") % {"day": check.day}, 45)
    pdf.words("; ".join(f"{name}: {value}" for name, value in check.facts), SMALL)
    if check.recalled:
        pdf.words(gettext("The meter of this check was recalled: %(why)s") % {"why": check.recalled}, bold=True)
    pdf.ln(1)
    rows = [((r.place, r.point, r.material, r.number, r.typed, r.taken_by, r.arrived, r.state), r.counts)
            for r in check.readings]  # fmt: skip
    if rows:
        pdf.grid(READING_COLUMNS, rows, (8, 14, 11, 9, 18, 15, 22, 19))
    told = [((v.place, band_said(v), "; ".join(v.reasons), str(v.policy_version), v.told), not v.recalled)
            for v in check.verdicts]  # fmt: skip
    if told:
        pdf.grid(VERDICT_COLUMNS, told, (8, 16, 60, 8, 20))


def band_said(verdict: LogVerdict) -> str:
    """The band of its day; a recalled one says so in words too."""
    return f"{verdict.band_word} ({gettext('recalled')})" if verdict.recalled else verdict.band_word


def _plots(pdf: _Pdf, sheet: LogSheet) -> None:
    width = (float(pdf.epw) - GAP) / 2
    for first in range(0, len(sheet.plots), 2):
        row = sheet.plots[first : first + 2]
        high = max(_size(ElementTree.fromstring(plot.svg), width)[1] for plot in row) + 6
        if first == 0:
            pdf.heading(gettext("Drying plots"), high + 12)
        elif pdf.will_page_break(high):
            pdf.add_page()
        top = float(pdf.get_y())
        for left, plot in zip((MARGIN, MARGIN + width + GAP), row, strict=False):
            pdf.set_xy(left, top)
            pdf.words(plot.place, bold=True)
            _draw(pdf, plot.svg, left, float(pdf.get_y()), width)
        pdf.set_y(top + high)


def _size(picture: ElementTree.Element, width: float) -> tuple[float, float]:
    """[mm of paper for one unit of the picture, its height on paper in mm]"""
    _, _, across, down = (float(part) for part in picture.attrib["viewBox"].split())
    return width / across, width / across * down


def _draw(pdf: _Pdf, svg: str, left: float, top: float, width: float) -> None:
    """Lines as the picture has them; its words with our font, which every reader of PDF then shows alike."""
    root = ElementTree.fromstring(svg)
    scale, high = _size(root, width)
    texts = [each for each in root if each.tag == f"{_SVG}text"]
    for each in [*texts, *root.findall(f"{_SVG}title")]:
        root.remove(each)
    ElementTree.register_namespace("", _SVG.strip("{}"))
    pdf.image(BytesIO(ElementTree.tostring(root)), x=left, y=top, w=width, h=high)
    pdf.set_text_color(0, 0, 0)
    pdf.set_font_size(float(root.attrib["font-size"]) * scale * float(pdf.k))
    for each in texts:
        _word(pdf, each, left, top, scale)


def _word(pdf: _Pdf, text: ElementTree.Element, left: float, top: float, scale: float) -> None:
    pdf.set_font(FAMILY, "B" if text.get("font-weight") == "bold" else "")
    words = pdf.printable(text.text or "")
    x = left + float(text.attrib["x"]) * scale
    x -= {"end": 1.0, "middle": 0.5}.get(text.get("text-anchor", ""), 0.0) * float(pdf.get_string_width(words))
    pdf.text(x, top + float(text.attrib["y"]) * scale, words)


def _policy(pdf: _Pdf, policy: LogPolicy) -> None:
    since = gettext("in force since %(at)s") % {"at": policy.since} if policy.since else gettext("county file")
    pdf.heading(gettext("Policy version %(version)s, %(since)s") % {"version": policy.version, "since": since}, 40)
    rows = [((name, value, source), True) for name, value, source in policy.limits]
    pdf.grid((N_("Limit"), N_("Value"), N_("Source")), rows, (38, 10, 60))


def _signatures(pdf: _Pdf) -> None:
    pdf.heading(gettext("Seen by"), 50)
    for who in SIGNATURES:
        pdf.ln(10)
        y, half = float(pdf.get_y()), float(pdf.epw) * 0.62
        pdf.line(MARGIN, y, MARGIN + half, y)
        pdf.line(MARGIN + half + 6, y, MARGIN + float(pdf.epw), y)
        pdf.words(f"{gettext(who)}: {gettext('name and signature')}", SMALL)
        pdf.set_xy(MARGIN + half + 6, y)
        pdf.words(gettext("Date"), SMALL)
