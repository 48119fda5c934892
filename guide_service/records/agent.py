"""Agents, their sign-ins, and the audit of every look and change."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import JSON, BigInteger, false
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id


class Agent(SQLModel, table=True):
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    login: str = Field(unique=True, max_length=60)
    name: str = Field(max_length=80)
    office: str | None = Field(default=None, max_length=40)
    """Office whose areas the agent sees; None = the whole county."""
    role: str = Field(default="agent", max_length=16)
    password_hash: str
    created_at: dt.datetime = Field(sa_type=UtcDateTime)
    expires_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    disabled_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    failed_tries: int = 0
    """Wrong passwords and wrong codes since the last right one."""
    locked_until: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    factor_sealed: bytes | None = None
    """Secret of the authenticator app, encrypted."""
    factor_key_id: str | None = Field(default=None, max_length=16)
    factor_set_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    """When a code of the app was seen; until then the secret is only being set up."""
    factor_step: int | None = Field(default=None, sa_type=BigInteger)
    """Time step of the last code that was taken: none up to it is taken again."""
    language: str | None = Field(default=None, max_length=16)
    """In which the pages speak to the agent; None: as the sign-in page did."""


class AgentSession(SQLModel, table=True):
    __tablename__ = "agent_session"
    token_key: str = Field(primary_key=True, max_length=64)
    """Keyed hash of the cookie: a stolen database signs nobody in."""
    agent_id: int = Field(foreign_key="agent.id", index=True, sa_type=BigInteger)
    csrf: str = Field(max_length=64)
    created_at: dt.datetime = Field(sa_type=UtcDateTime)
    expires_at: dt.datetime = Field(sa_type=UtcDateTime)
    seen_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    """Last request, to the minute; a session that lies idle ends."""
    device: str | None = Field(default=None, max_length=60)
    """What the browser says of itself, in two words."""
    waits_for_code: bool = Field(default=False, sa_column_kwargs={"server_default": false()})
    """The password was right; the code of the second factor is still to come. Opens nothing."""
    revoked_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)


class RecoveryCode(SQLModel, table=True):
    """One of the codes that stand in for a lost phone, each good once."""

    __tablename__ = "recovery_code"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    agent_id: int = Field(foreign_key="agent.id", index=True, sa_type=BigInteger)
    code_key: str = Field(max_length=64)
    """Keyed hash of the code."""
    used_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)


class RoundHouse(SQLModel, table=True):
    """A house of a volunteer's measuring round: from the first to the last day he or she may enter its readings."""

    __tablename__ = "round_house"
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    volunteer_id: int = Field(foreign_key="agent.id", index=True, sa_type=BigInteger)
    household_id: int = Field(foreign_key="household.id", index=True, sa_type=BigInteger)
    first_day: dt.date
    last_day: dt.date
    assigned_by: int = Field(sa_type=BigInteger)
    assigned_at: dt.datetime = Field(sa_type=UtcDateTime)
    ended_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)


class Audit(SQLModel, table=True):
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    at: dt.datetime = Field(sa_type=UtcDateTime)
    agent_id: int | None = Field(default=None, sa_type=BigInteger)
    household_id: int | None = Field(default=None, sa_type=BigInteger, index=True)
    action: str = Field(max_length=32)
    detail: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
