"""The drying log of a household as outsiders may see it: its number, its PIN, who looks, who tries.

A PIN is made and ends by the service's clock; looks, tries and locks are real time, whatever the demo's clock says.
"""

from __future__ import annotations

import datetime as dt

from sqlalchemy import BigInteger
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id


class DryingLog(SQLModel, table=True):
    """One row for each household whose log was ever opened; at most one PIN at a time."""

    __tablename__ = "drying_log"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", unique=True, sa_type=BigInteger)
    number: str = Field(unique=True, max_length=12)
    """Digits drawn at random; printed on the log, and nothing without the PIN."""
    pin_hash: str | None = None
    """Argon2; None while nobody outside may look."""
    pin_for: str = Field(default="", max_length=80)
    """For whom it was made, in the agent's words."""
    pin_made_by: int | None = Field(default=None, sa_type=BigInteger)
    pin_made_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    pin_ends_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    wrong_tries: int = 0
    """Since this PIN was made, or since it was last right."""
    locked_until: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)


class LogVisit(SQLModel, table=True):
    """Somebody who gave number and PIN may look for a short while."""

    __tablename__ = "log_visit"
    token_key: str = Field(primary_key=True, max_length=64)
    """Keyed hash of the cookie."""
    log_id: int = Field(foreign_key="drying_log.id", index=True, sa_type=BigInteger)
    opened_at: dt.datetime = Field(sa_type=UtcDateTime)
    ends_at: dt.datetime = Field(sa_type=UtcDateTime)


class LogTries(SQLModel, table=True):
    """Wrong tries from one address on the network, whatever log they were for."""

    __tablename__ = "log_tries"
    address_key: str = Field(primary_key=True, max_length=64)
    """Keyed hash: no address is kept."""
    wrong_tries: int = 0
    last_at: dt.datetime = Field(sa_type=UtcDateTime)
    locked_until: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
