"""A check falls due: a reminder, the county's nudges, then the agents' list; done early or stopped, nothing comes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from sqlalchemy import update
from sqlmodel import Session, select

from guide_service import jobs
from guide_service.database import writing
from guide_service.dialogue.events import EventName
from guide_service.followup import checks
from guide_service.records import Job, WorkerSeen
from guide_service.wiring import Service
from tests.people import add_person, escalations, live_jobs, local, rows, work

Turns = list[tuple[int, EventName, dt.datetime]]


@pytest.fixture
def turns(service: Service, monkeypatch: pytest.MonkeyPatch) -> Turns:
    """What the machine was asked for; each turn is a transaction that the job must be settled in."""
    taken: Turns = []

    def clock_turn(
        service: Service, household_id: int, event: EventName, settle: Callable[[Session], None] | None = None
    ) -> None:
        with writing(service.engine) as session:
            session.add(WorkerSeen(worker=f"turn-{len(taken)}-{event}", seen_at=service.clock.now()))
            session.flush()
            if settle is not None:
                settle(session)
        taken.append((household_id, event, service.clock.now()))

    monkeypatch.setattr(checks, "clock_turn", clock_turn)
    return taken


def schedule(service: Service, household: int, at: dt.datetime) -> None:
    with writing(service.engine) as session:
        payload = {"household": household}
        jobs.enqueue(session, "check_due", key=f"check:{household}", payload=payload, run_at=at,
                     now=service.clock.now())  # fmt: skip


def run_until(service: Service, end: dt.datetime) -> None:
    while service.clock.at < end:
        work(service)
        service.clock.advance(hours=1)


def test_a_check_that_nobody_answers_is_nudged_twice_and_then_the_agents_turn(service: Service, turns: Turns) -> None:
    _, household = add_person(service)
    due = local(service, 2027, 3, 18, 9)
    schedule(service, household, due)
    run_until(service, local(service, 2027, 4, 10, 12))
    assert [(event, at) for _, event, at in turns] == [
        (EventName.CHECK_DUE, due),
        (EventName.NUDGE_DUE, local(service, 2027, 3, 20, 9)),
        (EventName.NUDGE_DUE, local(service, 2027, 3, 22, 9)),
        (EventName.SILENT, local(service, 2027, 3, 24, 9)),
    ]
    assert {each for each, _, _ in turns} == {household}
    assert live_jobs(service) == []


def test_a_county_without_nudges_goes_from_the_reminder_to_the_list(service: Service, turns: Turns) -> None:
    hours = service.county.hours.model_copy(update={"nudge_after_days": ()})
    other = service.with_county(service.county.model_copy(update={"hours": hours}))
    object.__setattr__(service, "in_force", other.in_force)
    _, household = add_person(service)
    schedule(service, household, local(service, 2027, 3, 18, 9))
    run_until(service, local(service, 2027, 4, 10, 12))
    assert [event for _, event, _ in turns] == [EventName.CHECK_DUE, EventName.SILENT]


def test_a_check_done_early_moves_the_reminder_and_an_answer_ends_the_nudges(service: Service, turns: Turns) -> None:
    _, household = add_person(service)
    schedule(service, household, local(service, 2027, 3, 18, 9))
    schedule(service, household, local(service, 2027, 3, 22, 9))
    run_until(service, local(service, 2027, 3, 23, 9))
    assert [event for _, event, _ in turns] == [EventName.CHECK_DUE]
    with writing(service.engine) as session:
        assert len(jobs.cancelled(session, f"check:{household}", f"nudge:{household}")) == 1
    run_until(service, local(service, 2027, 4, 23, 9))
    assert len(turns) == 1


def test_a_check_that_is_answered_while_its_reminder_is_under_way_sends_none(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, household = add_person(service)
    schedule(service, household, service.clock.now())

    def answered_meanwhile(
        service: Service, household_id: int, event: EventName, settle: Callable[[Session], None]
    ) -> None:
        schedule(service, household_id, local(service, 2027, 3, 22, 9))
        with writing(service.engine) as session:
            session.add(WorkerSeen(worker="reminder", seen_at=service.clock.now()))
            settle(session)

    monkeypatch.setattr(checks, "clock_turn", answered_meanwhile)
    work(service, at_most=1)
    assert rows_of_reminders(service) == []
    assert [(job.kind, job.run_at) for job in live_jobs(service)] == [("check_due", local(service, 2027, 3, 22, 9))]


def rows_of_reminders(service: Service) -> list[WorkerSeen]:
    with writing(service.engine) as session:
        return list(session.exec(select(WorkerSeen)))


def test_a_reminder_whose_worker_dies_after_the_commit_is_not_given_twice(
    service: Service, turns: Turns, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Killed(BaseException):
        pass

    _, household = add_person(service)
    schedule(service, household, service.clock.now())
    honest = checks.clock_turn

    def die_after(*arguments: object, **more: object) -> None:
        honest(*arguments, **more)
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr(checks, "clock_turn", die_after)
        with pytest.raises(Killed):
            work(service)
    with writing(service.engine) as session:
        session.execute(update(Job).values(lease_until=dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1)))
    work(service, "w2")
    assert [event for _, event, _ in turns] == [EventName.CHECK_DUE]
    assert [job.kind for job in live_jobs(service)] == ["nudge_due"]


def test_a_reminder_that_always_fails_ends_on_the_agents_list(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_arguments: object, **_more: object) -> None:
        raise RuntimeError

    monkeypatch.setattr(checks, "clock_turn", broken)
    _, household = add_person(service)
    schedule(service, household, service.clock.now())
    for _ in range(jobs.MAX_ATTEMPTS):
        work(service)
        service.clock.advance(hours=1)
    (raised,) = escalations(service)
    assert (raised.household_id, raised.reason, raised.detail) == (household, "failure", {"job": "check_due"})
    assert [job.state for job in rows(service, Job, Job.kind == "check_due")] == ["dead"]
