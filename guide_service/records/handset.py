"""What the practice phone holds, standing in for the carrier and the phone in the demo: texts survive a restart."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import BigInteger, Index
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id


class HandsetText(SQLModel, table=True):
    """One text, or one call of ours, as the practice phone shows it. Numbers are of the fictional range only, so they
    stand open."""

    __tablename__ = "handset_text"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    number: str = Field(max_length=20)
    """The practice phone's number, whichever way the text went."""
    direction: str = Field(max_length=8)
    """``sent`` by the phone or ``received`` by it; a call of ours ``rings``, then it was ``taken`` or ``missed``."""
    body: str
    segments: int = 1
    encoding: str = Field(default="GSM-7", max_length=8)
    sid: str = Field(max_length=40)
    at: dt.datetime = Field(sa_type=UtcDateTime)
    """By the demo's clock."""
    row_id: int | None = Field(default=None, sa_type=BigInteger)
    """The service's own row of a received text, for its delivery reports."""

    __table_args__ = (Index("ix_handset_text_number_id", "number", "id"),)
