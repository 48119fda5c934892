"""One job per key, the newest word wins, nobody works twice, nothing is lost: on both databases."""

from __future__ import annotations

import datetime as dt
import threading
from collections import Counter
from collections.abc import Callable

import pytest
from sqlalchemy import Engine, update
from sqlmodel import Session, col, select

from guide_service import jobs
from guide_service.database import writing
from guide_service.records import Job

NOW = dt.datetime(2027, 3, 15, 16, 0, tzinfo=dt.UTC)
SOON = NOW + dt.timedelta(minutes=5)


def add(session: Session, key: str | None = "check:1", run_at: dt.datetime = NOW, kind: str = "check_due", **payload):
    """The id of the live job that is then there; of several, of the newest."""
    jobs.enqueue(session, kind, key=key, payload=payload, run_at=run_at, now=NOW)
    return live(session, key)


def live(session: Session, key: str | None) -> int | None:
    its = Job.key == key if key else col(Job.key).is_(None)
    ids = session.exec(select(Job.id).where(its, col(Job.state).in_(("ready", "running"))).order_by(col(Job.id).desc()))
    return ids.first()


def claim(engine: Engine, worker: str = "w1", now: dt.datetime = NOW, lease: float = 60, kinds=None) -> Job | None:
    with writing(engine) as session:
        return jobs.claim(session, worker, now, lease, kinds)


def finish(engine: Engine, job: Job, worker: str = "w1") -> bool:
    with writing(engine) as session:
        return jobs.finish(session, job, worker)


def stored(engine: Engine) -> list[Job]:
    with writing(engine) as session:
        return list(session.exec(select(Job).order_by(Job.id)))


class Fallen(Exception):
    pass


def half_done(engine: Engine, act: Callable[[Session], object]) -> None:
    with writing(engine) as session:
        assert act(session)
        raise Fallen


def let_lease_run_out(engine: Engine) -> None:
    with writing(engine) as session:
        session.execute(update(Job).values(lease_until=dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1)))


def test_a_job_is_claimed_once_it_is_due_and_once_only(engine: Engine) -> None:
    with writing(engine) as session:
        job_id = add(session, household=7)
    assert claim(engine, now=NOW - dt.timedelta(seconds=1)) is None
    job = claim(engine)
    assert (job.id, job.kind, job.payload, job.attempts) == (job_id, "check_due", {"household": 7}, 1)
    assert claim(engine, "w2") is None
    assert finish(engine, job)
    assert claim(engine, "w2") is None
    assert [job.state for job in stored(engine)] == ["done"]


def test_a_transaction_that_fails_leaves_no_job(engine: Engine) -> None:
    with pytest.raises(Fallen):
        half_done(engine, add)
    assert stored(engine) == []


def test_a_cancel_that_is_rolled_back_cancels_nothing(engine: Engine) -> None:
    with writing(engine) as session:
        add(session)
    with pytest.raises(Fallen):
        half_done(engine, lambda session: jobs.cancelled(session, "check:1"))
    assert claim(engine) is not None


def test_the_same_key_again_replaces_the_waiting_job(engine: Engine) -> None:
    with writing(engine) as session:
        first = add(session, round=1)
        again = add(session, run_at=SOON, kind="nudge_due", round=2)
    assert first == again
    assert claim(engine) is None
    job = claim(engine, now=SOON)
    assert (job.kind, job.payload) == ("nudge_due", {"round": 2})


def test_a_settled_job_does_not_stand_in_the_way_of_its_key(engine: Engine) -> None:
    with writing(engine) as session:
        first = add(session)
    assert finish(engine, claim(engine))
    with writing(engine) as session:
        assert add(session) != first
    assert [job.state for job in stored(engine)] == ["done", "ready"]


def test_jobs_without_a_key_live_side_by_side(engine: Engine) -> None:
    with writing(engine) as session:
        assert add(session, key=None) != add(session, key=None)
    assert len(stored(engine)) == 2


def test_a_running_job_is_taken_from_its_worker_by_a_newer_one(engine: Engine) -> None:
    with writing(engine) as session:
        add(session, round=1)
    old = claim(engine)
    with writing(engine) as session:
        add(session, run_at=SOON, round=2)
    assert not finish(engine, old)
    new = claim(engine, "w2", now=SOON)
    assert (new.payload, new.attempts) == ({"round": 2}, 1)
    assert not finish(engine, old)
    assert finish(engine, new, "w2")


def test_a_running_job_is_cancelled_under_its_worker(engine: Engine) -> None:
    with writing(engine) as session:
        add(session)
    job = claim(engine)
    with writing(engine) as session:
        assert jobs.held(session, job, "w1")
        assert jobs.cancelled(session, "check:1", "check:2") == [("check_due", {})]
        assert not jobs.held(session, job, "w1")
    assert not finish(engine, job)
    with writing(engine) as session:
        assert jobs.fail(session, job, "w1", "too late", NOW) is None
    let_lease_run_out(engine)
    assert claim(engine, now=SOON) is None


def test_a_job_may_be_left_as_it_is(engine: Engine) -> None:
    with writing(engine) as session:
        jobs.enqueue(session, "retention", key="retention", payload={}, run_at=SOON, now=NOW, replace=False)
        first = live(session, "retention")
        jobs.enqueue(session, "retention", key="retention", payload={}, run_at=NOW, now=NOW, replace=False)
        again = live(session, "retention")
    assert first is not None
    assert again == first
    assert [job.run_at for job in stored(engine)] == [SOON]


def test_cancelling_nothing_is_no_error(engine: Engine) -> None:
    with writing(engine) as session:
        jobs.cancel(session)
        jobs.cancel(session, "check:1")
        assert jobs.cancelled(session) == []
        assert jobs.cancelled(session, "check:1") == []


def test_what_has_been_due_longest_goes_first(engine: Engine) -> None:
    with writing(engine) as session:
        for minutes in (2, 1, 3):
            add(session, key=f"k{minutes}", run_at=NOW - dt.timedelta(minutes=minutes))
    assert [claim(engine).key for _ in range(3)] == ["k3", "k2", "k1"]


def test_a_worker_may_ask_for_some_kinds_only(engine: Engine) -> None:
    with writing(engine) as session:
        add(session, key="a", kind="send_text")
        add(session, key="b", kind="alarm")
    assert claim(engine, kinds={"alarm", "silent"}).key == "b"
    assert claim(engine, kinds={"alarm", "silent"}) is None
    assert claim(engine).key == "a"


def test_the_job_of_a_dead_worker_is_taken_over_and_the_late_worker_is_refused(engine: Engine) -> None:
    with writing(engine) as session:
        add(session)
    first = claim(engine, "w1")
    assert claim(engine, "w2") is None
    let_lease_run_out(engine)
    second = claim(engine, "w2")
    assert (second.id, second.attempts) == (first.id, 2)
    assert not finish(engine, first, "w1")
    with writing(engine) as session:
        assert jobs.fail(session, first, "w1", "late", NOW) is None
    assert finish(engine, second, "w2")


def test_an_abandoned_job_does_not_wait_behind_a_backlog(engine: Engine) -> None:
    with writing(engine) as session:
        add(session, key="abandoned", run_at=NOW)
        claimed = jobs.claim(session, "w1", NOW, 60)
        add(session, key="backlog", run_at=NOW - dt.timedelta(days=1))
    assert claimed.key == "abandoned"
    let_lease_run_out(engine)
    assert claim(engine, "w2").key == "abandoned"


def test_a_failed_job_comes_back_later_and_later_and_is_dead_in_the_end(engine: Engine) -> None:
    with writing(engine) as session:
        add(session)
    now, waits = NOW, []
    for _ in range(jobs.MAX_ATTEMPTS):
        job = claim(engine, now=now)
        with writing(engine) as session:
            state = jobs.fail(session, job, "w1", "TimeoutError", now)
        (row,) = stored(engine)
        assert (row.state, row.last_error, row.worker) == (state, "TimeoutError", None)
        if state == "ready":
            assert claim(engine, now=now) is None
        waits.append(row.run_at - now)
        now = row.run_at
    assert state == "dead"
    assert claim(engine, now=now + dt.timedelta(days=400)) is None
    assert waits[0] <= jobs.FIRST_BACK_OFF
    assert all(wait <= jobs.LONGEST_BACK_OFF for wait in waits)
    assert sum(waits, dt.timedelta()) > dt.timedelta(hours=1)


def test_back_off_doubles_with_chance_and_has_a_ceiling() -> None:
    for attempts, seconds in ((1, 10), (2, 20), (3, 40), (7, 640), (12, 3600), (500, 3600)):
        waits = {jobs.back_off(attempts).total_seconds() for _ in range(50)}
        assert all(seconds / 2 <= wait <= seconds for wait in waits)
        assert len(waits) > 1


def test_a_peek_sees_what_a_claim_would_take(engine: Engine) -> None:
    def due(at: dt.datetime = NOW) -> bool:
        with writing(engine) as session:
            return jobs.any_due(session, at)

    assert not due()
    with writing(engine) as session:
        add(session, run_at=SOON)
    assert not due()
    assert due(SOON)
    claim(engine, now=SOON)
    assert not due(SOON)
    let_lease_run_out(engine)
    assert due(SOON)


def test_old_settled_jobs_are_forgotten_and_live_and_dead_ones_kept(engine: Engine) -> None:
    with writing(engine) as session:
        for state in ("ready", "running", "done", "cancelled", "dead"):
            session.add(Job(kind="alarm", state=state, run_at=NOW, created_at=NOW))
    with writing(engine) as session:
        assert jobs.forget_settled(session, NOW) == 0
        assert jobs.forget_settled(session, SOON) == 2
    assert {job.state for job in stored(engine)} == {"ready", "running", "dead"}


def test_several_workers_do_every_job_exactly_once(engine: Engine) -> None:
    with writing(engine) as session:
        for number in range(120):
            add(session, key=f"k{number}", number=number)
    done: list[int] = []

    def work(name: str) -> None:
        while (job := claim(engine, name)) is not None:
            done.append(job.payload["number"])
            assert finish(engine, job, name)

    workers = [threading.Thread(target=work, args=(f"w{number}",)) for number in range(4)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert Counter(done) == Counter(range(120))
    assert {job.state for job in stored(engine)} == {"done"}


def test_many_at_once_under_one_key_leave_one_live_job(engine: Engine) -> None:
    problems: list[Exception] = []

    def put(number: int) -> None:
        try:
            for again in range(10):
                with writing(engine) as session:
                    add(session, round=number * 10 + again)
        except Exception as problem:
            problems.append(problem)

    threads = [threading.Thread(target=put, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert problems == []
    assert [job.state for job in stored(engine)] == ["ready"]
