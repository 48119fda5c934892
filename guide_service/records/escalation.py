"""What needs a person: waiting, claimed or settled; one open row per household and reason."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import JSON, BigInteger, Index, text
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id

OPEN = "state <> 'settled'"
"""In the very words of the partial indexes below: with parameters in it SQLite would not see that an index fits."""


class Escalation(SQLModel, table=True):
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", index=True, sa_type=BigInteger)
    contact_id: int | None = Field(default=None, sa_type=BigInteger)
    conversation_id: int | None = Field(default=None, sa_type=BigInteger)
    message_id: int | None = Field(default=None, sa_type=BigInteger)
    reason: str = Field(max_length=24)
    """A ``dialogue.effects.EscalationReason``."""
    urgency: int
    """1 danger, 2 urgent, 3 soon, 4 routine."""
    detail: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    words: str = ""
    """The last words of the person, for whoever reads the list."""
    state: str = Field(default="waiting", max_length=8)
    """``waiting``, ``claimed`` or ``settled``."""
    times: int = 1
    """How often the same reason came up while it was open."""
    opened_at: dt.datetime = Field(sa_type=UtcDateTime)
    claimed_by: int | None = Field(default=None, sa_type=BigInteger)
    claimed_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    settled_by: int | None = Field(default=None, sa_type=BigInteger)
    settled_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    outcome: str | None = Field(default=None, max_length=120)
    alarms: int = 0

    __table_args__ = (
        Index(
            "uq_escalation_open",
            "household_id",
            "reason",
            unique=True,
            sqlite_where=text(OPEN),
            postgresql_where=text(OPEN),
        ),
        Index("ix_escalation_state_urgency", "state", "urgency", "opened_at"),
        Index(
            "ix_escalation_open_in_order",
            "urgency",
            "opened_at",
            "id",
            sqlite_where=text(OPEN),
            postgresql_where=text(OPEN),
        ),
    )
