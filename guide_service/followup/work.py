"""One claimed job in the hands of a worker: what every handler receives."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from sqlmodel import Session

from guide_service import jobs
from guide_service.database import writing
from guide_service.records import Job
from guide_service.wiring import Service

RENEWED_AFTER = 0.25
"""Part of a lease after which it is renewed: a slow slice or two may follow."""


class JobLost(Exception):
    """The job was cancelled, replaced or taken over while it ran: its transaction must not be committed."""


@dataclass(slots=True)
class Work:
    service: Service
    job: Job
    worker: str
    pause: Callable[[float], object]
    """Waits so many seconds, or until the worker is told to stop; then it is true."""
    beat: Callable[[], None] = lambda: None
    """Says that the worker is alive."""
    _renewed: float = field(default_factory=time.monotonic)

    def number(self, name: str) -> int:
        """An id of the payload."""
        return int(self.job.payload[name])

    def go_on(self) -> None:
        """After each slice of long work: the lease is renewed in time, and the worker is seen to be alive.

        ``JobLost`` when the job was cancelled or another worker has it by now.
        """
        if time.monotonic() - self._renewed < jobs.LEASE_SECONDS * RENEWED_AFTER:
            return
        with writing(self.service.engine) as session:
            if not jobs.renew(session, self.job, self.worker, jobs.LEASE_SECONDS):
                raise JobLost
        self._renewed = time.monotonic()
        self.beat()

    @contextmanager
    def settling(self) -> Iterator[Session]:
        """A transaction that does the job and finishes it, or does neither (``JobLost``)."""
        with writing(self.service.engine) as session:
            self.hold(session)
            yield session
            self.settle(session)

    def hold(self, session: Session) -> None:
        if not jobs.held(session, self.job, self.worker):
            raise JobLost

    def settle(self, session: Session) -> None:
        """Finished, unless the transaction has put its successor in its place."""
        jobs.finish(session, self.job, self.worker)

    def again(self, session: Session, run_at: dt.datetime, **payload: object) -> None:
        """The same job once more at ``run_at``; its tries begin anew."""
        self.then(session, self.job.kind, run_at, **{**self.job.payload, **payload})

    def then(self, session: Session, kind: str, run_at: dt.datetime, **payload: object) -> None:
        """What follows under the same key, in place of this job."""
        now = self.service.clock.now()
        jobs.enqueue(session, kind, key=self.job.key, payload=payload, run_at=run_at, now=now)
