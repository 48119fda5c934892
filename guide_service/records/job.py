"""The one table of work that falls due: written in the transaction that causes it, claimed by the workers."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import JSON, BigInteger, Index, text
from sqlmodel import Field, SQLModel

from guide_service.records.base import UtcDateTime, new_id

LIVE = "state in ('ready', 'running')"
"""In the very words of the partial index below: with parameters in it SQLite would not see that the index fits."""


class Job(SQLModel, table=True):
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    kind: str = Field(max_length=24)
    key: str | None = Field(default=None, max_length=80)
    """At most one live job per key: a later one replaces it."""
    payload: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    """Ids only: a job outlives deploys."""
    run_at: dt.datetime = Field(sa_type=UtcDateTime)
    state: str = Field(default="ready", max_length=10)
    """``ready``, ``running``, ``done``, ``cancelled`` or ``dead``."""
    attempts: int = 0
    lease_until: dt.datetime | None = Field(default=None, sa_type=UtcDateTime)
    worker: str | None = Field(default=None, max_length=60)
    last_error: str | None = Field(default=None, max_length=200)
    created_at: dt.datetime = Field(sa_type=UtcDateTime)

    __table_args__ = (
        Index(
            "uq_job_live_key",
            "key",
            unique=True,
            sqlite_where=text(LIVE),
            postgresql_where=text(LIVE),
        ),
        Index("ix_job_state_run_at", "state", "run_at"),
    )


class WorkerSeen(SQLModel, table=True):
    """When each worker last looked at the table, in real time: ``/readyz`` reads it."""

    __tablename__ = "worker_seen"
    worker: str = Field(primary_key=True, max_length=60)
    seen_at: dt.datetime = Field(sa_type=UtcDateTime)


class SendBucket(SQLModel, table=True):
    """Segments that may still be sent this second: one row for all workers of one sending number."""

    __tablename__ = "send_bucket"
    number: str = Field(primary_key=True, max_length=20)
    available: float
    filled_at: dt.datetime = Field(sa_type=UtcDateTime)
