"""What a coordinator decides about records: a meter recalled, a request to delete granted or refused."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import JSON, BigInteger, Index
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id


class MeterRecall(SQLModel, table=True):
    """A meter was found to read wrong: numbers taken with it between two days can only make a verdict worse.

    Which readings these are stands with them (``reading.recall_id``); they themselves stay as they were.
    """

    __tablename__ = "meter_recall"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    meter: str | None = Field(default=None, max_length=40)
    """The number on it, or its owner, as households name it; None where nobody ever named it."""
    household_id: int | None = Field(default=None, sa_type=BigInteger)
    """Of a meter that only this household uses: all its checks, however they name the meter."""
    unnamed: bool = False
    """Also checks for which nobody ever said whose meter it was."""
    first_day: dt.date
    last_day: dt.date | None = None
    """None: it still reads wrong, and what is measured with it from now on does not count either."""
    reason: str = Field(max_length=300)
    made_by: int = Field(sa_type=BigInteger)
    made_at: dt.datetime = Field(sa_type=UtcDateTime)
    checks: int = 0
    households: int = 0
    ended_by: int | None = Field(default=None, sa_type=BigInteger)
    """Who said on which day the meter was in order again."""
    undone_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    """When it was taken back, because it had been made by mistake."""
    undone_by: int | None = Field(default=None, sa_type=BigInteger)
    undone_why: str = Field(default="", max_length=300)


class RecallHouse(SQLModel, table=True):
    """A household that a recall concerns; no key to its row, so that its file can be deleted."""

    __tablename__ = "recall_house"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    recall_id: int = Field(foreign_key="meter_recall.id", sa_type=BigInteger)
    household_id: int = Field(sa_type=BigInteger)
    tie: str = Field(max_length=8)
    """What ties it to the meter: ``named`` (its checks name it), ``has`` (it said that it has this meter, the checks
    name none), ``lent`` (the county had lent it to it on those days), ``own`` (a recall of its own meter),
    ``unnamed``, or ``holds`` (it has the meter, and no check yet)."""
    checks: int = 0
    walls: list[str] = Field(default_factory=list, sa_type=JSON)
    """Names of the walls that were said to meet the limit and do not any more."""
    closed: bool = False
    """Whether it had told us that walls are closed."""
    told: int = 0
    """Phones that were texted."""
    done_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    """When its verdicts were weighed anew and it was told."""

    __table_args__ = (
        Index("uq_recall_house", "recall_id", "household_id", unique=True),
        Index("ix_recall_house_household_id", "household_id"),
    )


class DeletionDecision(SQLModel, table=True):
    """Outlives the file that it is about: no key to the household's row, and nothing personal in it."""

    __tablename__ = "deletion_decision"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    household_id: int = Field(index=True, sa_type=BigInteger)
    asked_at: dt.datetime = Field(sa_type=UtcDateTime)
    granted: bool
    category: str = Field(default="", max_length=16)
    """Of a refusal: what the household is told of the reason."""
    keep_until: dt.date | None = None
    """Of a granted one: readings and verdicts stay until then, without anything personal; None = all of it goes."""
    reason: str = Field(max_length=300)
    rule: str = ""
    """The county's rule as it was shown when it was decided."""
    decided_by: int = Field(sa_type=BigInteger)
    decided_at: dt.datetime = Field(sa_type=UtcDateTime)
    carry_out_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    carried_out_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    removed: dict[str, int] = Field(default_factory=dict, sa_type=JSON)
    """How many rows of what went when it was carried out."""
    withdrawn_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    """A granted one that was taken back before it was carried out."""


class RetentionStep(SQLModel, table=True):
    """When a step of the retention table was last applied, and how much it removed."""

    __tablename__ = "retention_step"
    name: str = Field(primary_key=True, max_length=40)
    last_at: dt.datetime = Field(sa_type=UtcDateTime)
    last_removed: int = 0
    removed: int = 0
    """Since it is counted."""
    since: dt.datetime = Field(sa_type=UtcDateTime)
