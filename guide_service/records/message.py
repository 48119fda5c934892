"""Every text in and out, each inbound one with exactly one outcome."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import JSON, BigInteger, Index, text
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id


def _index_of_those_that_have(name: str, column: str, *, unique: bool = False) -> Index:
    """Half of all texts have no carrier id yet and the other half answer nothing: they need no place in the index."""
    present = text(f"{column} is not null")
    return Index(name, column, unique=unique, sqlite_where=present, postgresql_where=present)


class Message(SQLModel, table=True):
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    contact_id: int = Field(foreign_key="contact.id", sa_type=BigInteger)
    household_id: int | None = Field(default=None, foreign_key="household.id", sa_type=BigInteger)
    direction: str = Field(max_length=3)
    """``in`` or ``out``."""
    channel: str = Field(default="sms", max_length=8)
    origin: str = Field(max_length=8)
    """``person``, ``reply``, ``started`` (reminders, nudges), ``agent``, ``alarm`` or ``many`` (a notice)."""
    body: str | None = None
    """The exact text; None after its retention time."""
    language: str = Field(default="en", max_length=8)
    at: dt.datetime = Field(sa_type=UtcDateTime)
    carrier_sid: str | None = Field(default=None, max_length=40)
    reply_to: int | None = Field(default=None, sa_type=BigInteger)
    """Of an outbound reply: the inbound message it answers."""
    # inbound
    outcome: str | None = Field(default=None, max_length=8)
    """``reply`` or ``silence``."""
    outcome_reason: str | None = Field(default=None, max_length=24)
    """Of a silence (``turning.deciding.Silence``), or ``failure``."""
    media: list[dict[str, str]] | None = Field(default=None, sa_type=JSON)
    understood: list[dict[str, Any]] | None = Field(default=None, sa_type=JSON)
    """What the text was understood to say, kept apart from the text."""
    # outbound
    segments: int = 0
    encoding: str | None = Field(default=None, max_length=8)
    texts: list[str] | None = Field(default=None, sa_type=JSON)
    """Message ids of the catalogue that it was made of."""
    agent_id: int | None = Field(default=None, sa_type=BigInteger)
    status: str | None = Field(default=None, max_length=24)
    """``waiting`` and ``attempted`` are ours; then the carrier's own words (queued, sent, delivered, ...)."""
    status_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    error_code: str | None = Field(default=None, max_length=12)
    attempts: int = 0

    __table_args__ = (
        _index_of_those_that_have("uq_message_carrier_sid", "carrier_sid", unique=True),
        _index_of_those_that_have("ix_message_reply_to", "reply_to"),
        Index("ix_message_contact_at", "contact_id", "id"),
        Index("ix_message_household_at", "household_id", "id"),
    )


class Tombstone(SQLModel, table=True):
    """A carrier id that was handled and whose message row is gone: a replayed webhook recreates nothing."""

    sid_key: str = Field(primary_key=True, max_length=64)
    at: dt.datetime = Field(sa_type=UtcDateTime)
