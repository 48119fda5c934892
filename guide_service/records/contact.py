"""A contact is one phone: its number (sealed), language, consent and opt-out."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import BigInteger
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id


class Contact(SQLModel, table=True):
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    phone_key: str = Field(unique=True, max_length=64)
    """Keyed hash of the number: how it is found."""
    phone_sealed: bytes
    """The number, encrypted: opened only to send, or by a logged click."""
    key_id: str = Field(max_length=16)
    last_digits: str = Field(max_length=4)
    kind: str = Field(default="phone", max_length=16)
    language: str = Field(default="en", max_length=8)
    channel: str = Field(default="sms", max_length=8)
    consented_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    opted_out_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    undeliverable: str | None = Field(default=None, max_length=16)
    """Carrier's error code that made us give up on this number; cleared when it writes again."""
    created_at: dt.datetime = Field(sa_type=UtcDateTime)
    last_heard_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    returned_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    """When it was last heard again after a long silence: what it was told before need not be its owner's business."""
    speaks_of: int | None = Field(default=None, sa_type=BigInteger)
    """The household that its texts are about, chosen by a phone that serves several; else the one it spoke of last."""
    code_tries: int = 0
    """Wrong household codes on ``code_tried_on``."""
    code_tried_on: dt.date | None = None


class ConsentEvent(SQLModel, table=True):
    """The ledger of consent: what was said, when, in which words. Kept by keyed hash after a file is deleted."""

    __tablename__ = "consent_event"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    phone_key: str = Field(index=True, max_length=64)
    at: dt.datetime = Field(sa_type=UtcDateTime)
    kind: str = Field(max_length=16)
    """``shown``, ``given``, ``refused``, ``stop`` or ``start``."""
    words: str = ""
    language: str = Field(default="en", max_length=8)
    source: str = Field(default="sms", max_length=16)
    message_id: int | None = Field(default=None, sa_type=BigInteger)
