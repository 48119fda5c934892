"""Every benchmark of this folder: ``run()`` of each ``bench_*.py``, one table, and ``results.json``.

python -m tests.bench            all of them
python -m tests.bench turns      those whose file name contains "turns"
"""

from __future__ import annotations

import importlib
import json
import sys
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

HERE = Path(__file__).parent
RESULTS = HERE / "results.json"
FIELDS = ("name", "value", "target", "holds")


def main(wanted: list[str]) -> int:
    names = [path.stem for path in sorted(HERE.glob("bench_*.py"))]
    chosen = [name for name in names if not wanted or any(word in name for word in wanted)]
    screen, rows = Console(width=150), []
    for name in chosen:
        screen.print(f"{name} ...", style="dim")
        rows += [checked(row, name) for row in importlib.import_module(f"tests.bench.{name}").run()]
    screen.print(as_table(rows))
    RESULTS.write_text(json.dumps(rows, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    missed = [row for row in rows if row["holds"] is False]
    screen.print(
        f"{len(rows)} lines, {len(missed)} miss their target; written to {RESULTS.relative_to(HERE.parent.parent)}"
    )
    return 1 if missed else 0


def checked(row: dict[str, Any], name: str) -> dict[str, Any]:
    """A row with exactly the fields that all have."""
    missing = [field for field in FIELDS if field not in row]
    if missing:
        raise ValueError(f"{name}.run() gave a row without {', '.join(missing)}")
    return {field: row[field] for field in FIELDS}


def as_table(rows: list[dict[str, Any]]) -> Table:
    table = Table("measured", "value", "target", "holds", box=None, pad_edge=False)
    for row in rows:
        holds = {True: "yes", False: "NO"}.get(row["holds"], "-")
        table.add_row(str(row["name"]), str(row["value"]), str(row["target"]), holds)
    return table


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
