"""Whether this service can do its work, and which part cannot: what ``/readyz`` says."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import func
from sqlalchemy.exc import SQLAlchemyError
from sqlmodel import select

from guide_service.database import reading
from guide_service.records import WorkerSeen
from guide_service.records.migrating import is_current
from guide_service.wiring import Service

WORKER_SEEN_WITHIN = dt.timedelta(seconds=60)


def what_fails(service: Service) -> list[str]:
    """Of ``database``, ``migrations`` and ``worker`` those that are not in order; empty = ready."""
    try:
        if not is_current(service.engine):
            return ["migrations"]
        return [] if worker_seen_lately(service) else ["worker"]
    except SQLAlchemyError:
        return ["database"]


def worker_seen_lately(service: Service) -> bool:
    """By real time: the demo's clock moves no worker."""
    with reading(service.engine) as session:
        seen = session.exec(select(func.max(WorkerSeen.seen_at))).one()
    return seen is not None and dt.datetime.now(dt.UTC) - seen <= WORKER_SEEN_WITHIN
