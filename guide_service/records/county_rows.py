"""What the county sets and changes: policy as versioned rows, and the clock of the demo."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import JSON, BigInteger
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime


class PolicyRow(SQLModel, table=True):
    __tablename__ = "policy"
    version: int = Field(primary_key=True)
    values: dict[str, Any] = Field(sa_type=JSON)
    county: dict[str, Any] | None = Field(default=None, sa_type=JSON)
    """Sections of the county file as they hold with this version (``policy_change``); None = as the file has them."""
    changes: list[dict[str, Any]] = Field(default_factory=list, sa_type=JSON)
    """What this version changed: name, old value, new value, source."""
    reason: str = ""
    made_by: int | None = Field(default=None, sa_type=BigInteger)
    made_at: dt.datetime = Field(sa_type=UtcDateTime)


class DemoClock(SQLModel, table=True):
    """How far the demo's dates are ahead of real time; a row, since the worker is another process."""

    __tablename__ = "demo_clock"
    id: int = Field(primary_key=True)
    ahead_seconds: int = 0
