"""Lines of comma-separated values (RFC 4180) in which no cell is run by a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""OWASP, CSV Injection: what makes a spreadsheet take a cell for a formula; the wide forms count as the plain ones."""
BYTE_ORDER_MARK = "\ufeff"
"""Without it common spreadsheets read accents of UTF-8 wrongly (common practice)."""


def defused(value: object) -> str:
    """The cell as text; an apostrophe before what a spreadsheet would run."""
    cell = "" if value is None else str(value)
    return f"'{cell}" if cell.lstrip(" ").startswith(BEGINS_A_FORMULA) or cell.startswith(BEGINS_A_FORMULA) else cell


def csv_line(cells: Iterable[object]) -> str:
    line = io.StringIO()
    csv.writer(line, quoting=csv.QUOTE_ALL).writerow([defused(cell) for cell in cells])
    return line.getvalue()
