"""Where one phone stands with one household, and what was last asked of it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import JSON, BigInteger, Index
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id


class Conversation(SQLModel, table=True):
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    contact_id: int = Field(foreign_key="contact.id", sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", index=True, sa_type=BigInteger)
    state: str = Field(max_length=60)
    slots: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    """The dialogue's memory: pending readings, the check under way, the wall being set up, where it came from."""
    asked: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    """The open question with the answers as sent: a late "2" means the 2 that the person saw."""
    flow_digest: str = Field(default="", max_length=16)
    taken_over_by: int | None = Field(default=None, sa_type=BigInteger)
    taken_over_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    agent_active_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    updated_at: dt.datetime = Field(sa_type=UtcDateTime)

    __table_args__ = (Index("uq_conversation_contact_household", "contact_id", "household_id", unique=True),)
