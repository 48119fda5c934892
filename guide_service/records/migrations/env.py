"""Run by Alembic on the connection that ``records.migrating`` hands over; nothing here opens one."""

from __future__ import annotations

from typing import Any, Literal

from alembic import context
from alembic.autogenerate.api import AutogenContext
from sqlmodel import SQLModel
from sqlmodel.sql.sqltypes import AutoString

import guide_service.records  # noqa: F401  (registers every table)
from guide_service.records.base import UtcDateTime


def plain_types(kind: str, value: Any, _autogen: AutogenContext) -> str | Literal[False]:
    """Column types as SQLAlchemy's own, so that an old migration never depends on today's code."""
    if kind == "type" and isinstance(value, UtcDateTime):
        return "sa.DateTime(timezone=True)"
    if kind == "type" and isinstance(value, AutoString):
        return f"sa.String(length={value.length})" if value.length else "sa.String()"
    return False


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=SQLModel.metadata,
    # SQLite alters a table by copying it; the first migration only creates
    render_as_batch=not context.config.attributes.get("first"),
    render_item=plain_types,
    compare_type=True,
)
context.run_migrations()
