"""A notice: one text to many households, written by an agent, with a row for each phone that is to get it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import JSON, BigInteger, Index
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id


class Notice(SQLModel, table=True):
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    title: str = Field(max_length=80)
    """For colleagues; nobody is texted it."""
    office: str | None = Field(default=None, max_length=40)
    """Office that it belongs to; None = the whole county."""
    choice: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    """Who gets it (``notices.choice``)."""
    phrase: str | None = Field(default=None, max_length=60)
    """Message id of a ready-made text."""
    own: dict[str, str] = Field(default_factory=dict, sa_type=JSON)
    """Own words by language; they go before the ready-made text."""
    state: str = Field(default="draft", max_length=8)
    """``draft``, ``sending``, ``done``, ``stopped`` or ``dropped``."""
    authors: list[str] = Field(default_factory=list, sa_type=JSON)
    """Ids of all agents who wrote or changed it: none of them approves it."""
    changed_at: dt.datetime = Field(sa_type=UtcDateTime)
    approved_by: int | None = Field(default=None, sa_type=BigInteger)
    approved_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    approved_digest: str | None = Field(default=None, max_length=64)
    """Of the words and the choice that were approved: when either changes, the approval is void."""
    approved_people: int = 0
    bodies: dict[str, str] = Field(default_factory=dict, sa_type=JSON)
    """The words as sent, by language; written when it is started."""
    started_by: int | None = Field(default=None, sa_type=BigInteger)
    started_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    listed_to: int = Field(default=0, sa_type=BigInteger)
    """Contacts up to this id have their row."""
    listed_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    """When the last row was made."""
    ended_by: int | None = Field(default=None, sa_type=BigInteger)
    """Who stopped it or dropped it."""
    ended_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)


class NoticeRecipient(SQLModel, table=True):
    """One phone that a notice is for. No foreign keys to people: a file that is deleted leaves only numbers here."""

    __tablename__ = "notice_recipient"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    notice_id: int = Field(foreign_key="notice.id", sa_type=BigInteger)
    contact_id: int = Field(sa_type=BigInteger)
    household_id: int = Field(sa_type=BigInteger)
    """In whose conversation the text stands."""
    language: str = Field(max_length=8)
    zone: str = Field(max_length=40)
    """Time zone of the household's area, for its quiet hours."""
    state: str = Field(default="queued", max_length=10)
    """``queued``, ``handed`` (to the outbox), ``opted_out``, ``left``, ``stopped``, ``no_text`` (in the language) or
    ``no_voice`` (chose calls, and nobody can say these words in the language)."""
    message_id: int | None = Field(default=None, sa_type=BigInteger)
    """The text, once handed over."""

    __table_args__ = (
        Index("uq_notice_recipient", "notice_id", "contact_id", unique=True),
        Index("ix_notice_recipient_state", "notice_id", "state", "id"),
        Index("ix_notice_recipient_message", "message_id"),
    )
