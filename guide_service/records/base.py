"""What all tables share: naming of constraints, UTC-only times, ids that are known before the row is written."""

from __future__ import annotations

import datetime as dt
import os
import threading
import time
from typing import Any

from sqlalchemy import BigInteger, DateTime, Dialect, MetaData
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.types import TypeDecorator
from sqlmodel import SQLModel

SQLModel.metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)


class UtcDateTime(TypeDecorator[dt.datetime]):
    """An instant. SQLite would drop the offset silently, so naive values are refused and UTC is stored."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time without a time zone cannot be stored")
        value = value.astimezone(dt.UTC)
        return value.replace(tzinfo=None) if dialect.name == "sqlite" else value

    def process_result_value(self, value: dt.datetime | None, _dialect: Dialect) -> dt.datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=dt.UTC) if value.tzinfo is None else value.astimezone(dt.UTC)


@compiles(BigInteger, "sqlite")
def _as_row_id(_type: BigInteger, _compiler: Any, **_how: Any) -> str:
    """All integers of SQLite have 64 bits; a key of this very name is the row's own place, not a second index."""
    return "INTEGER"


_lock = threading.Lock()
_last_id = 0


def new_id() -> int:
    """A 63-bit id that grows with time: milliseconds, then random bits; never twice in one process.

    Known before the insert, so that a reply can name its own row and a turn needs no round trip for ids. Two processes
    colliding within a millisecond (1 in 4 million) meet the primary key and the turn is taken again.
    """
    global _last_id
    fresh = (time.time_ns() // 1_000_000 << 22) | int.from_bytes(os.urandom(3), "big") & 0x3FFFFF
    with _lock:
        _last_id = fresh if fresh > _last_id else _last_id + 1
        return _last_id
