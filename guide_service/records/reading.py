"""Checks, readings and the verdicts given on them. Readings are never overwritten: corrections are new rows."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import JSON, BigInteger, Index, TextClause, text
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id


def _index_of_the_few(name: str, condition: TextClause) -> Index:
    """For what is counted of the whole county; a reading that a household texts never touches such an index."""
    return Index(name, "household_id", sqlite_where=condition, postgresql_where=condition)


class Check(SQLModel, table=True):
    """All readings of one visit to the places, with what was asked about the meter."""

    __tablename__ = "visit"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", sa_type=BigInteger)
    contact_id: int = Field(foreign_key="contact.id", sa_type=BigInteger)
    taken_on: dt.date
    """The day the readings were taken, which need not be the day they arrived."""
    mode: str = Field(default="not_asked", max_length=12)
    self_check: str = Field(default="not_done", max_length=10)
    block_value: float | None = None
    meter: str | None = Field(default=None, max_length=40)
    temp_c: float | None = None
    opened_at: dt.datetime = Field(sa_type=UtcDateTime)
    closed_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    recall_id: int | None = Field(default=None, sa_type=BigInteger)
    """The recall of its meter; what the household measures on that day falls under it too."""

    __table_args__ = (Index("uq_visit_household_taken_on", "household_id", "taken_on", unique=True),)


class ReadingRow(SQLModel, table=True):
    __tablename__ = "reading"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", sa_type=BigInteger)
    check_id: int = Field(foreign_key="visit.id", sa_type=BigInteger)
    message_id: int | None = Field(default=None, sa_type=BigInteger)
    contact_id: int | None = Field(default=None, sa_type=BigInteger)
    agent_id: int | None = Field(default=None, sa_type=BigInteger)
    place: str = Field(max_length=8)
    """Label of the place."""
    point: str = Field(max_length=12)
    value: float | None = None
    qualifier: str = Field(default="exact", max_length=8)
    material: str = Field(default="wood", max_length=12)
    mode: str | None = Field(default=None, max_length=12)
    """Only when the text itself said so (pinless, a colour); otherwise the check's."""
    colour: str | None = Field(default=None, max_length=8)
    resolution: float = 1.0
    typed: str = ""
    """The words that it was read from, as typed."""
    taken_on: dt.date
    arrived_at: dt.datetime = Field(sa_type=UtcDateTime)
    confirmed: bool = True
    replaces: int | None = Field(default=None, sa_type=BigInteger)
    superseded_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    """Set when a correction or an undo took its place; the row itself stays as it was."""
    recall_id: int | None = Field(default=None, sa_type=BigInteger)
    """The recall of its meter: the number can make a verdict worse, never better."""

    __table_args__ = (
        Index("ix_reading_household_taken", "household_id", "taken_on"),
        _index_of_the_few("ix_reading_of_agents", text("agent_id is not null")),
        _index_of_the_few("ix_reading_unconfirmed", text("not confirmed")),
    )


class Verdict(SQLModel, table=True):
    """What was answered about a place, with everything behind it."""

    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", index=True, sa_type=BigInteger)
    check_id: int | None = Field(default=None, sa_type=BigInteger)
    message_id: int | None = Field(default=None, sa_type=BigInteger)
    place: str = Field(max_length=8)
    band: str = Field(max_length=8)
    worst: float | None = None
    passes: bool = False
    reasons: list[dict[str, Any]] = Field(default_factory=list, sa_type=JSON)
    readings: list[str] = Field(default_factory=list, sa_type=JSON)
    forecast: dict[str, Any] | None = Field(default=None, sa_type=JSON)
    policy_version: int = 1
    at: dt.datetime = Field(sa_type=UtcDateTime)
    recall_id: int | None = Field(default=None, sa_type=BigInteger)
    """It rested on a meter that was found bad."""


class ReadyAnswer(SQLModel, table=True):
    """A wall whose readings were said to meet the county's limit: what it covered and until when it holds."""

    __tablename__ = "ready_answer"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", index=True, sa_type=BigInteger)
    wall_id: int = Field(sa_type=BigInteger)
    message_id: int | None = Field(default=None, sa_type=BigInteger)
    covers: list[str] = Field(default_factory=list, sa_type=JSON)
    policy_version: int = 1
    at: dt.datetime = Field(sa_type=UtcDateTime)
    lapses_on: dt.date
    recall_id: int | None = Field(default=None, sa_type=BigInteger)
