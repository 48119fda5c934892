"""A list in the agent's words as a file of comma-separated values (RFC 4180); no cell is run by a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

from guide_service.console import words
from guide_service.console.catalogue import N_, gettext
from guide_service.console.finding import Found
from guide_service.county import County

BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""OWASP, CSV Injection: what makes a spreadsheet take a cell for a formula; the wide forms count as the plain ones."""
BYTE_ORDER_MARK = "\ufeff"
"""Without it common spreadsheets read accents of UTF-8 wrongly (common practice)."""
COLUMNS = (
    N_("household"), N_("address"), N_("name"), N_("phone ends"), N_("area"), N_("language"), N_("stage"),
    N_("worst band"), N_("wet"), N_("caution"), N_("reads dry"), N_("stalled"), N_("mould open"),
    N_("reminders unanswered"), N_("last check"), N_("next check"), N_("expected dry"), N_("expected dry, late"),
)  # fmt: skip


def defused(value: object) -> str:
    """The cell as text; an apostrophe before what a spreadsheet would run."""
    cell = "" if value is None else str(value)
    return f"'{cell}" if cell.lstrip(" ").startswith(BEGINS_A_FORMULA) or cell.startswith(BEGINS_A_FORMULA) else cell


def as_csv(rows: Iterable[Found], county: County) -> Iterator[str]:
    yield BYTE_ORDER_MARK + _line(map(gettext, COLUMNS))
    areas = {area.id: area.name for area in county.areas}
    for found in rows:
        yield _line(_cells(found, areas))


def _cells(found: Found, areas: dict[str, str]) -> tuple[object, ...]:
    home = found.household
    return (
        home.id, home.address, found.name, found.digits, areas.get(home.area or "", home.area),
        words.word(words.LANGUAGES, home.language), words.word(words.STAGES, home.stage),
        words.word(words.BANDS, home.band), home.wet, home.caution, home.dry, _yes(home.stalled), _yes(home.mould_open),
        home.unanswered, home.last_check_on, home.next_check_on, home.dry_on, home.dry_by,
    )  # fmt: skip


def _yes(value: bool) -> str:
    return gettext("yes") if value else gettext("no")


def _line(cells: Iterable[object]) -> str:
    line = io.StringIO()
    csv.writer(line, quoting=csv.QUOTE_ALL).writerow([defused(cell) for cell in cells])
    return line.getvalue()
