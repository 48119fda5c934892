"""Meters that the county has lent: which, to whom, until when, and when it came back."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import BigInteger, Index, text
from sqlmodel import Field, SQLModel

from guide_service.records.base import new_id


class Loan(SQLModel, table=True):
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", index=True, sa_type=BigInteger)
    meter: str = Field(max_length=20)
    """The number on it."""
    place: str = Field(default="", max_length=80)
    """Name of the place that lent it, to which it is brought back; empty where the county names none."""
    lent_on: dt.date
    lent_by: int = Field(sa_type=BigInteger)
    due_on: dt.date
    reminders: int = 0
    """How often the household was asked to bring it back."""
    returned_on: dt.date | None = None
    returned_by: int | None = Field(default=None, sa_type=BigInteger)

    def days_overdue(self, today: dt.date) -> int:
        """0 on the day it is due and before; after it is back too."""
        return max((today - self.due_on).days, 0) if self.returned_on is None else 0

    __table_args__ = (
        Index(
            "uq_loan_out",
            "meter",
            unique=True,
            sqlite_where=text("returned_on is null"),
            postgresql_where=text("returned_on is null"),
        ),
    )
