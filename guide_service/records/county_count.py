"""What the worker counts of the whole county, a row per day, area, language and thing: the picture reads only this."""

from __future__ import annotations

import datetime as dt

from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime


class CountyCount(SQLModel, table=True):
    """A day's rows are counted anew every few minutes; those of a day that is over stay as they were last counted."""

    __tablename__ = "county_count"
    day: dt.date = Field(primary_key=True)
    area: str = Field(primary_key=True, max_length=40)
    """Empty for a household that has not named one."""
    language: str = Field(primary_key=True, max_length=8)
    """Empty where none was chosen."""
    topic: str = Field(primary_key=True, max_length=12)
    """``stage``, ``place``, ``flag``, ``waiting``, ``oldest``, ``phone``, ``dry_week`` or ``late_week``."""
    value: str = Field(primary_key=True, max_length=24)
    number: int
    counted_at: dt.datetime = Field(sa_type=UtcDateTime)
