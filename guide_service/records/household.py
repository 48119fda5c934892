"""A household is one address; its walls and the places that are measured belong to it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import JSON, BigInteger, Index, TextClause, text
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id


def _index_of_the_few(name: str, condition: TextClause) -> Index:
    """Lists of a county pick out the few; a turn of any other household never touches such an index."""
    return Index(name, "id", sqlite_where=condition, postgresql_where=condition)


class Household(SQLModel, table=True):
    """One address with the summary that each turn keeps, so that lists never read the history."""

    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    area: str | None = Field(default=None, max_length=40, index=True)
    address: str | None = Field(default=None, max_length=120)
    stage: str = Field(default="unknown", max_length=24)
    facts: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    """What the household told of itself: meter, power, kind of house, washed on ... (``dialogue.facts``)."""
    band: str = Field(default="unread", max_length=8)
    """Worst band of the followed places at the last check."""
    wet: int = 0
    caution: int = 0
    dry: int = 0
    ready_walls: int = 0
    stalled: bool = False
    mould_open: bool = False
    language: str | None = Field(default=None, max_length=8)
    """The language that one of its phones chose last."""
    dry_on: dt.date | None = None
    """Likely day on which its slowest place is below the limit; None when a place that is not dry has no such day."""
    dry_by: dt.date | None = None
    """Late end of that day's range."""
    flooded_again_on: dt.date | None = None
    last_check_on: dt.date | None = None
    next_check_on: dt.date | None = Field(default=None, index=True)
    unanswered: int = 0
    """Reminders since the household was last heard."""
    code_key: str | None = Field(default=None, unique=True, max_length=64)
    """Keyed hash of the household code: how it is found. None until somebody asks for one, and after it was revoked."""
    code_sealed: bytes | None = None
    """The code, encrypted: opened to be told to a resident, or to compare."""
    code_key_id: str | None = Field(default=None, max_length=16)
    code_told_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    """A phone can join for some days after the code was last told."""
    merged_into: int | None = Field(default=None, sa_type=BigInteger)
    """The household that an agent joined this one to, when one house had been begun twice; lists leave it out."""
    deleted_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    """When its file was deleted and only readings and verdicts stayed, for the county's records; lists leave it out."""
    version: int = 0
    """Grows with every turn: a turn that was decided on an older version is decided again."""
    created_at: dt.datetime = Field(sa_type=UtcDateTime)
    updated_at: dt.datetime = Field(sa_type=UtcDateTime)

    __table_args__ = (
        Index("ix_household_stage", "stage", "id"),
        Index("ix_household_band", "band", "id"),
        Index("ix_household_language", "language", "id"),
        Index("ix_household_area_band", "area", "band", "id"),
        _index_of_the_few("ix_household_stalled", text("stalled")),
        _index_of_the_few("ix_household_mould_open", text("mould_open")),
        _index_of_the_few("ix_household_unanswered", text("unanswered > 0")),
    )


class Membership(SQLModel, table=True):
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    contact_id: int = Field(foreign_key="contact.id", index=True, sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", index=True, sa_type=BigInteger)
    role: str = Field(default="unknown", max_length=16)
    """``owner``, ``renter``, ``landlord``, ``contractor``, ``volunteer``, ``helper`` or ``unknown``."""
    name: str | None = Field(default=None, max_length=60)
    joined_at: dt.datetime = Field(sa_type=UtcDateTime)
    ended_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    by_code: bool = False
    """It joined with the household code, later than the phone that began."""
    added_by: int | None = Field(default=None, sa_type=BigInteger)
    """The agent who added this phone."""
    proved_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    """When it last showed, by the code or a fact of the file, that the household is its owner's."""

    __table_args__ = (Index("uq_membership_contact_household", "contact_id", "household_id", unique=True),)


class WallRow(SQLModel, table=True):
    """A wall or floor that will be closed as one."""

    __tablename__ = "wall"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", index=True, sa_type=BigInteger)
    letter: str = Field(max_length=2)
    name: str = Field(max_length=60)
    bays: int | None = None
    created_at: dt.datetime = Field(sa_type=UtcDateTime)
    removed_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)


class PlaceRow(SQLModel, table=True):
    __tablename__ = "place"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", index=True, sa_type=BigInteger)
    wall_id: int = Field(foreign_key="wall.id", sa_type=BigInteger)
    label: str = Field(max_length=8)
    kind: str = Field(default="bay", max_length=12)
    exposure: str = Field(default="unknown", max_length=12)
    treated_plate: bool | None = None
    treated_confirmed: bool = False
    """An agent accepted the treated plate as flat at the level of a treated one that stayed dry."""
    followed: bool = True
    created_at: dt.datetime = Field(sa_type=UtcDateTime)
    removed_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)

    __table_args__ = (Index("uq_place_household_label", "household_id", "label", unique=True),)


class MouldReport(SQLModel, table=True):
    __tablename__ = "mould_report"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", index=True, sa_type=BigInteger)
    message_id: int | None = Field(default=None, sa_type=BigInteger)
    sense: str = Field(max_length=8)
    """``seen`` or ``smelt``."""
    words: str = ""
    reported_at: dt.datetime = Field(sa_type=UtcDateTime)
    lifted_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    lifted_by: int | None = Field(default=None, sa_type=BigInteger)
    lifted_why: str = ""


class HouseholdNote(SQLModel, table=True):
    """What agents write down for each other; no household hears it."""

    __tablename__ = "household_note"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", index=True, sa_type=BigInteger)
    agent_id: int = Field(sa_type=BigInteger)
    body: str = Field(max_length=1000)
    at: dt.datetime = Field(sa_type=UtcDateTime)
