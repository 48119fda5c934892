"""The service's idea of now. Only dates of the service hang on it: never a session, a lease or a second factor."""

from __future__ import annotations

import datetime as dt
from typing import Protocol

from sqlalchemy import Engine

from guide_service.database import reading, writing
from guide_service.records import DemoClock


class Clock(Protocol):
    def now(self) -> dt.datetime:
        """The present instant, in UTC."""


class SystemClock:
    def now(self) -> dt.datetime:
        return dt.datetime.now(dt.UTC)


class FixedClock:
    """A clock that stands still until it is moved: tests and the seeding of the demo."""

    def __init__(self, at: dt.datetime) -> None:
        self.at = at

    def now(self) -> dt.datetime:
        return self.at

    def advance(self, **by: float) -> dt.datetime:
        self.at += dt.timedelta(**by)
        return self.at


class DatabaseClock:
    """Real time plus the demo's lead, kept in a row that the web process and the worker share."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine

    def now(self) -> dt.datetime:
        with reading(self.engine) as session:
            row = session.get(DemoClock, 1)
        return dt.datetime.now(dt.UTC) + dt.timedelta(seconds=row.ahead_seconds if row else 0)

    def advance(self, minutes: int) -> dt.datetime:
        with writing(self.engine) as session:
            row = session.get(DemoClock, 1) or DemoClock(id=1)
            row.ahead_seconds += minutes * 60
            session.add(row)
        return self.now()
