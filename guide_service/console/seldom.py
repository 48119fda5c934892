"""A condition that picks out the few, said so to SQLite: it must not read a whole county for one page.

SQLite knows of an index only how many rows a value has on the average. In a county in which nearly all households stand
alike it therefore reads the table from its end and hopes to meet the value soon; for one that nobody has, it reads all.
PostgreSQL keeps how often each value occurs, and needs no word.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import Boolean, ColumnElement
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.functions import FunctionElement


class seldom(FunctionElement[bool]):
    """``seldom(condition)``: the same condition, with SQLite's own hint around it."""

    type = Boolean()
    inherit_cache = True

    def __init__(self, condition: ColumnElement[bool]) -> None:
        super().__init__(condition)

    def self_group(self, against: Any = None) -> Any:  # noqa: ARG002
        """As it stands: SQLite takes the hint only where nothing is compared with it."""
        return self


@compiles(seldom)
def _plainly(element: Any, compiler: Any, **more: Any) -> str:
    return str(compiler.process(element.clauses, **more))


@compiles(seldom, "sqlite")
def _hinted(element: Any, compiler: Any, **more: Any) -> str:
    return f"unlikely({compiler.process(element.clauses, **more)})"
