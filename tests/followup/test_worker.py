"""The worker goes on whatever happens, stops when told, and several share the work."""

from __future__ import annotations

import datetime as dt
import logging
import threading
from collections import Counter
from dataclasses import replace

import pytest
from sqlalchemy import update

from guide_service import jobs
from guide_service.carrier.recording import RecordingSender
from guide_service.clock import DatabaseClock
from guide_service.database import writing
from guide_service.faults import describe
from guide_service.followup import handlers, worker
from guide_service.followup.work import Work
from guide_service.followup.worker import Worker, run
from guide_service.readiness import worker_seen_lately
from guide_service.records import Job, WorkerSeen
from guide_service.wiring import Service
from tests.people import add_person, live_jobs, rows, start, work


def put(service: Service, kind: str, key: str, **payload: object) -> None:
    with writing(service.engine) as session:
        now = service.clock.now()
        jobs.enqueue(session, kind, key=key, payload=payload, run_at=now, now=now)


class Running:
    """Workers in threads, stopped at the end."""

    def __init__(self, service: Service, names: str = "a", poll: float = 0.01) -> None:
        self.stop = threading.Event()
        more = {"stop": self.stop, "poll_seconds": poll}
        self.threads = [
            threading.Thread(target=run, args=(service,), kwargs={**more, "worker_name": name}) for name in names
        ]

    def __enter__(self) -> Running:
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_problem: object) -> None:
        self.stop.set()
        for thread in self.threads:
            thread.join(timeout=20)
            assert not thread.is_alive()


def wait_for(condition: object, seconds: float = 20.0) -> None:
    gate = threading.Event()
    for _ in range(int(seconds / 0.02)):
        if condition():
            return
        gate.wait(0.02)
    raise AssertionError("it never came to that")


def test_a_worker_says_that_it_is_alive_in_real_time_and_stops_when_told(service: Service) -> None:
    assert not worker_seen_lately(service)
    with Running(service, "w"):
        wait_for(lambda: worker_seen_lately(service))
    with writing(service.engine) as session:
        seen = session.get_one(WorkerSeen, "w").seen_at
    assert abs((dt.datetime.now(dt.UTC) - seen).total_seconds()) < 60


def test_the_periodic_jobs_are_put_in_line_once(service: Service) -> None:
    for name in "ab":
        Worker(service, name, threading.Event()).beat()
    assert sorted(job.kind for job in live_jobs(service)) == [
        "county_count",
        "retention",
        "silence_sweep",
        "sweep_replies",
    ]


def test_a_job_that_raises_fails_and_the_next_is_done(
    service: Service, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    done = []

    def handle(work: Work) -> None:
        if work.job.payload["bad"]:
            raise ValueError("the number is +12025550123")
        done.append(work.job.id)

    monkeypatch.setitem(handlers.HANDLERS, "test", handle)
    put(service, "test", "a", bad=True)
    put(service, "test", "b", bad=False)
    with caplog.at_level(logging.INFO):
        assert work(service) == 2
    assert len(done) == 1
    states = {job.key: (job.state, job.last_error) for job in rows(service, Job)}
    assert states["b"] == ("done", None)
    assert states["a"][0] == "ready"
    assert states["a"][1].startswith("ValueError at")
    assert "0123" not in caplog.text


def test_a_kind_that_this_version_does_not_know_waits_for_one_that_does(service: Service) -> None:
    put(service, "of_a_later_version", "x")
    assert work(service) == 1
    (job,) = live_jobs(service)
    assert (job.state, job.attempts) == ("ready", 1)
    assert job.run_at > service.clock.now()


def test_a_job_that_kills_its_workers_is_buried(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    class Killed(BaseException):
        pass

    def handle(_work: Work) -> None:
        raise Killed

    buried = []
    monkeypatch.setitem(handlers.HANDLERS, "test", handle)
    monkeypatch.setitem(handlers.BURIALS, "test", lambda work: buried.append(work.job.id))
    put(service, "test", "x")
    for _ in range(jobs.MAX_ATTEMPTS):
        with pytest.raises(Killed):
            work(service)
        with writing(service.engine) as session:
            session.execute(update(Job).values(lease_until=dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1)))
    work(service)
    assert len(buried) == 1
    assert [job.state for job in rows(service, Job)] == ["dead"]


def test_a_worker_outlives_a_database_that_fails(
    service: Service, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    contact, household = add_person(service)
    honest, failures = jobs.any_due, [RuntimeError(), RuntimeError()]

    def any_due(*arguments: object) -> bool:
        if failures:
            raise failures.pop()
        return honest(*arguments)

    monkeypatch.setattr(jobs, "any_due", any_due)
    start(service, contact, household)
    with Running(service):
        wait_for(lambda: service.sender.sent)
    assert caplog.text.count("RuntimeError") == 2


def test_a_moved_clock_is_seen_at_once(service: Service, sender: RecordingSender) -> None:
    moved = replace(service, clock=DatabaseClock(service.engine))
    contact, household = add_person(moved)
    start(moved, contact, household, origin="alarm", send_at=moved.clock.now() + dt.timedelta(days=3))
    with Running(moved):
        wait_for(lambda: worker_seen_lately(moved))
        assert sender.sent == []
        moved.clock.advance(3 * 24 * 60 + 1)
        wait_for(lambda: sender.sent)


def test_several_workers_send_every_text_once(service: Service, sender: RecordingSender) -> None:
    hours = service.county.hours.model_copy(update={"segments_per_second": 1_000.0})
    fast = service.with_county(service.county.model_copy(update={"hours": hours}))
    contact, household = add_person(fast)
    for number in range(40):
        start(fast, contact, household, sms_of(number))
    with Running(fast, "abc"):
        wait_for(lambda: len(sender.sent) >= 40)
        wait_for(lambda: not [job for job in live_jobs(fast) if job.kind == "send_text"])
    assert Counter(text.body for text in sender.sent) == Counter({f"text {number}": 1 for number in range(40)})


def sms_of(number: int):
    from tests.people import sms

    return sms(f"text {number}")


def test_the_description_of_a_failure_holds_no_words_of_it() -> None:
    with pytest.raises(TypeError) as problem:
        jobs.back_off(None)  # type: ignore[arg-type]
    assert describe(problem.value).startswith("TypeError at back_off:")


def test_every_kind_has_a_handler_and_every_burial_a_kind() -> None:
    kinds = {"send_text", "check_due", "nudge_due", "silent", "alarm", "take_over_end", "sweep_replies", "retention"}
    assert kinds <= set(handlers.HANDLERS)
    assert set(handlers.BURIALS) <= set(handlers.HANDLERS)
    assert set(handlers.PERIODIC) <= set(handlers.HANDLERS)
    assert worker.HEARTBEAT_SECONDS < 60
