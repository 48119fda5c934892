"""A list as a file of comma-separated values (RFC 4180) in which no cell is run by a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

from guide_service.console.finding import Found
from guide_service.county import County

BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""OWASP, CSV Injection: what makes a spreadsheet take a cell for a formula; the wide forms count as the plain ones."""
BYTE_ORDER_MARK = "\ufeff"
"""Without it common spreadsheets read accents of UTF-8 wrongly (common practice)."""
COLUMNS = (
    "household", "address", "name", "phone ends", "area", "language", "stage", "worst band", "wet", "caution",
    "reads dry", "stalled", "mould open", "reminders unanswered", "last check", "next check", "expected dry",
    "expected dry, late",
)  # fmt: skip


def defused(value: object) -> str:
    """The cell as text; an apostrophe before what a spreadsheet would run."""
    cell = "" if value is None else str(value)
    return f"'{cell}" if cell.lstrip(" ").startswith(BEGINS_A_FORMULA) or cell.startswith(BEGINS_A_FORMULA) else cell


def as_csv(rows: Iterable[Found], county: County) -> Iterator[str]:
    yield BYTE_ORDER_MARK + _line(COLUMNS)
    areas = {area.id: area.name for area in county.areas}
    for found in rows:
        yield _line(_cells(found, areas))


def _cells(found: Found, areas: dict[str, str]) -> tuple[object, ...]:
    home = found.household
    return (
        home.id, home.address, found.name, found.digits, areas.get(home.area or "", home.area), home.language,
        home.stage, home.band, home.wet, home.caution, home.dry, _yes(home.stalled), _yes(home.mould_open),
        home.unanswered, home.last_check_on, home.next_check_on, home.dry_on, home.dry_by,
    )  # fmt: skip


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _line(cells: Iterable[object]) -> str:
    line = io.StringIO()
    csv.writer(line, quoting=csv.QUOTE_ALL).writerow([defused(cell) for cell in cells])
    return line.getvalue()
