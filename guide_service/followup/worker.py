"""The worker: claims what is due, does it, and goes on whatever happens. Any number of them may run.

It looks at the table every ``poll_seconds``, so that a moved demo clock or a new text is seen at once.
"""

from __future__ import annotations

import datetime as dt
import logging
import os
import socket
import threading
import time
from typing import Any

from sqlalchemy.dialects import postgresql, sqlite

from guide_service import jobs
from guide_service.database import reading, writing
from guide_service.faults import describe
from guide_service.followup.handlers import HANDLERS, PERIODIC, bury
from guide_service.followup.retention import seal_all_anew
from guide_service.followup.work import JobLost, Work
from guide_service.records import Job, WorkerSeen
from guide_service.wiring import Service

log = logging.getLogger(__name__)

HEARTBEAT_SECONDS = 5.0
_seen: Any = WorkerSeen.__table__  # type: ignore[attr-defined]


def _seen_now(insert: Any) -> Any:
    return insert.on_conflict_do_update(index_elements=["worker"], set_={"seen_at": insert.excluded.seen_at})


_BEAT = {"sqlite": _seen_now(sqlite.insert(_seen)), "postgresql": _seen_now(postgresql.insert(_seen))}


def run(service: Service, stop: threading.Event, *, worker_name: str | None = None, poll_seconds: float = 0.5) -> None:
    """Works until ``stop`` is set; the job in hand is brought to its end first."""
    worker = Worker(service, worker_name or f"{socket.gethostname()[:40]}:{os.getpid()}", stop)
    worker.begin()
    while not stop.is_set():
        try:
            worker.beat()
            busy = worker.work_once()
        except Exception as problem:
            log.error("worker %s: %s", worker.name, describe(problem))
            busy = False
        if not busy:
            stop.wait(poll_seconds)


class Worker:
    def __init__(self, service: Service, name: str, stop: threading.Event) -> None:
        self.service = service
        self.name = name
        self.stop = stop
        self._beaten = float("-inf")

    def begin(self) -> None:
        try:
            self.service.in_force.seed(self.service.clock.now())
            seal_all_anew(self.service)
        except Exception as problem:  # the nightly retention tries it again, and nothing else waits for it
            log.error("worker %s: %s", self.name, describe(problem))

    def beat(self) -> None:
        """Says that this worker is alive, in real time, and that the periodic jobs are in line."""
        if time.monotonic() - self._beaten < HEARTBEAT_SECONDS:
            return
        with writing(self.service.engine) as session:
            connection = session.connection()
            connection.execute(
                _BEAT[connection.dialect.name], {"worker": self.name, "seen_at": dt.datetime.now(dt.UTC)}
            )
            for kind in PERIODIC:
                now = self.service.clock.now()
                jobs.enqueue(session, kind, key=kind, payload={}, run_at=now, now=now, replace=False)
        self._beaten = time.monotonic()

    def work_once(self) -> bool:
        """Does one job that is due; whether there was one."""
        now = self.service.clock.now()
        with reading(self.service.engine) as session:
            if not jobs.any_due(session, now):
                return False
        self.service.in_force.look()
        with writing(self.service.engine) as session:
            job = jobs.claim(session, self.name, now, jobs.LEASE_SECONDS)
        if job is None:
            return False
        self._do(job)
        return True

    def _do(self, job: Job) -> None:
        work = Work(self.service, job, self.name, self.stop.wait, self.beat)
        try:
            if job.attempts > jobs.MAX_ATTEMPTS:
                raise AbandonedTooOften
            HANDLERS[job.kind](work)
            with writing(self.service.engine) as session:
                work.settle(session)
        except JobLost:
            log.info("job %s of kind %s is not wanted any more", job.id, job.kind)
        except Exception as problem:
            self._failed(work, describe(problem))

    def _failed(self, work: Work, error: str) -> None:
        log.error("job %s of kind %s failed: %s", work.job.id, work.job.kind, error)
        with writing(self.service.engine) as session:
            state = jobs.fail(session, work.job, self.name, error, self.service.clock.now())
        if state == "dead":
            work.job.last_error = error
            bury(work)


class AbandonedTooOften(Exception):
    """Every worker that took this job died of it."""
