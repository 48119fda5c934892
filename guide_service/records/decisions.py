"""What a coordinator decides about records: a meter recalled, a request to delete granted or refused."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import BigInteger
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id


class MeterRecall(SQLModel, table=True):
    """A meter was found bad: checks taken with it between two days no longer count."""

    __tablename__ = "meter_recall"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    meter: str | None = Field(default=None, max_length=40)
    """As it stands with the checks; None = checks that name no meter."""
    first_day: dt.date
    last_day: dt.date
    reason: str = Field(max_length=300)
    made_by: int = Field(sa_type=BigInteger)
    made_at: dt.datetime = Field(sa_type=UtcDateTime)
    checks: int = 0
    households: int = 0


class DeletionDecision(SQLModel, table=True):
    """Outlives the file that it is about: no key to the household's row, and nothing personal in it."""

    __tablename__ = "deletion_decision"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    household_id: int = Field(index=True, sa_type=BigInteger)
    asked_at: dt.datetime = Field(sa_type=UtcDateTime)
    granted: bool
    reason: str = Field(max_length=300)
    rule: str = ""
    """The county's rule as it was shown when it was decided."""
    decided_by: int = Field(sa_type=BigInteger)
    decided_at: dt.datetime = Field(sa_type=UtcDateTime)
    carry_out_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    carried_out_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    withdrawn_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    """A granted one that was taken back before it was carried out."""
