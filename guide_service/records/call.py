"""One phone call: where it stands, and what was said last, so that a retried webhook hears the same again."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import JSON, BigInteger
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id


class Call(SQLModel, table=True):
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    call_sid: str | None = Field(default=None, unique=True, max_length=40)
    """The carrier's; None for one of ours that it has not taken yet."""
    direction: str = Field(default="in", max_length=3)
    contact_id: int | None = Field(default=None, index=True, sa_type=BigInteger)
    household_id: int | None = Field(default=None, index=True, sa_type=BigInteger)
    """The one that the caller has shown to be theirs, where the phone serves several."""
    trusted: bool = False
    """The caller's network vouches for the number."""
    proved: bool = False
    """The caller has shown by a code or a fact of the file that the house is theirs."""
    language: str | None = Field(default=None, max_length=8)
    """Spoken in place of the phone's own language, which has no voice."""
    step: int = 0
    """Answers taken so far; the next one bears this number."""
    held: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    """The prompt that is open, the one under it, page, silences, words that wait to be confirmed."""
    said: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    """What was answered last."""
    message_id: int | None = Field(default=None, sa_type=BigInteger)
    """Of a call that we make: the row whose words it brings."""
    status: str = Field(default="in-progress", max_length=16)
    """The carrier's last word on the call."""
    started_at: dt.datetime = Field(sa_type=UtcDateTime)
    ended_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
