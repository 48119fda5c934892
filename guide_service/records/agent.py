"""Agents, their sign-ins, and the audit of every look and change."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import JSON, BigInteger
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
    locked_until: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)


class AgentSession(SQLModel, table=True):
    __tablename__ = "agent_session"
    token_key: str = Field(primary_key=True, max_length=64)
    """Keyed hash of the cookie: a stolen database signs nobody in."""
    agent_id: int = Field(foreign_key="agent.id", index=True, sa_type=BigInteger)
    csrf: str = Field(max_length=64)
    created_at: dt.datetime = Field(sa_type=UtcDateTime)
    expires_at: dt.datetime = Field(sa_type=UtcDateTime)
    revoked_at: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)


class Audit(SQLModel, table=True):
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    at: dt.datetime = Field(sa_type=UtcDateTime)
    agent_id: int | None = Field(default=None, sa_type=BigInteger)
    household_id: int | None = Field(default=None, sa_type=BigInteger, index=True)
    action: str = Field(max_length=32)
    detail: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
