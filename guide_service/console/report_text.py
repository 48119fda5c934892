"""The situation report as plain text of one width, as it is mailed, printed and pasted."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from guide_service.console.situation_report import Part, Report

WIDTH = 64
_NAME, _NUMBER, _CHANGE = 38, 10, 14
_GROUP = 24
"""For the name of an area or a language, whose columns are named."""


def as_text(report: Report) -> str:
    lines = [*report.head, "", *_wrapped(report.in_short)]
    for part in report.parts:
        lines += ["", *(_table(part) if part.heads else _section(part))]
    return "\n".join(lines) + "\n"


def _section(part: Part) -> Iterator[str]:
    yield part.title
    wide = max(_NAME, *(len(name) + 1 for name, _ in part.lines)) if part.lines else _NAME
    for name, (number, change) in part.lines:
        yield f"  {name:<{wide}}{number:>{_NUMBER}}{change:>{_CHANGE}}".rstrip()
    for paragraph in part.paragraphs:
        yield from _wrapped(paragraph, "  ")


def _table(part: Part) -> Iterator[str]:
    yield f"{part.title:<{_GROUP}}" + "".join(f"{head:>{_NUMBER}}" for head in part.heads)
    for name, cells in part.lines:
        yield f"  {name[: _GROUP - 3]:<{_GROUP - 2}}" + "".join(f"{cell:>{_NUMBER}}" for cell in cells)


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)
