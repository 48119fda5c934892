"""What the county's table says is forgotten; a replay recreates nothing; old numbers are sealed anew."""

from __future__ import annotations

import datetime as dt
import threading
import time
from collections.abc import Callable
from dataclasses import replace

import pytest
from sqlmodel import Session

from guide_service import jobs
from guide_service.carrier.form import InboundText
from guide_service.database import writing
from guide_service.followup import retention
from guide_service.followup import work as work_module
from guide_service.followup.work import JobLost, Work
from guide_service.followup.worker import run
from guide_service.records import (
    Agent,
    AgentSession,
    ConsentEvent,
    Contact,
    Escalation,
    Job,
    Message,
    Tombstone,
    WorkerSeen,
)
from guide_service.sealing import Sealer
from guide_service.turn import take_turn
from guide_service.wiring import Service
from tests.people import NUMBER, add_person, live_jobs, row, rows, work


def clean(service: Service) -> None:
    with writing(service.engine) as session:
        now = service.clock.now()
        jobs.enqueue(session, "retention", key="retention", payload={}, run_at=now, now=now)
    assert work(service) == 1


def text(service: Service, days_old: float, direction: str = "in", **values: object) -> Message:
    contact = rows(service, Contact)[0].id if rows(service, Contact) else add_person(service)[0]
    media = [{"url": "https://pictures.example/1", "type": "image/jpeg"}]
    at = service.clock.now() - dt.timedelta(days=days_old)
    with writing(service.engine) as session:
        message = Message(contact_id=contact, direction=direction, origin="person", body="K1 22", at=at, media=media,
                          understood=[{"event": "readings"}], **values)  # fmt: skip
        session.add(message)
    return message


def test_links_go_first_then_bodies_then_rows(service: Service) -> None:
    ages = {name: text(service, days).id for name, days in
            (("young", 89), ("links", 91), ("bodies", 366), ("kept", 729), ("rows", 731))}  # fmt: skip
    clean(service)
    stored = {message.id: message for message in rows(service, Message)}
    assert ages["rows"] not in stored
    shown = {name: (stored[id_].media is not None, stored[id_].body) for name, id_ in ages.items() if id_ in stored}
    assert shown == {
        "young": (True, "K1 22"), "links": (False, "K1 22"), "bodies": (False, None), "kept": (False, None),
    }  # fmt: skip
    assert stored[ages["bodies"]].understood is None


def test_what_we_said_is_kept_as_long_as_the_row(service: Service) -> None:
    ours = text(service, 400, direction="out")
    clean(service)
    assert row(service, Message, ours.id).body == "K1 22"


def test_a_row_that_goes_leaves_a_tombstone_by_its_keyed_id(service: Service) -> None:
    text(service, 800, carrier_sid="SMold")
    text(service, 800, direction="out", carrier_sid="SMours")
    text(service, 800)
    clean(service)
    clean(service)
    assert rows(service, Message) == []
    with writing(service.engine) as session:
        assert session.get(Tombstone, service.sealer.sid_key("SMold")) is not None
        assert session.get(Tombstone, service.sealer.sid_key("SMours")) is None


def test_more_than_one_slice_is_done_in_one_go(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(retention, "BATCH", 3)
    for _ in range(8):
        text(service, 400)
    clean(service)
    assert {message.body for message in rows(service, Message)} == {None}


def test_words_beside_a_settled_escalation_go_with_the_bodies(service: Service) -> None:
    _, household = add_person(service)
    old = service.clock.now() - dt.timedelta(days=400)
    with writing(service.engine) as session:
        for reason, state in (("mould", "settled"), ("danger", "waiting")):
            session.add(Escalation(household_id=household, reason=reason, urgency=2, state=state, words="the wall",
                                   opened_at=old))  # fmt: skip
    clean(service)
    assert {each.reason: each.words for each in rows(service, Escalation)} == {"mould": "", "danger": "the wall"}


def test_settled_jobs_ended_sign_ins_and_gone_workers_are_forgotten(service: Service) -> None:
    long_ago, now = service.clock.now() - dt.timedelta(days=40), dt.datetime.now(dt.UTC)
    with writing(service.engine) as session:
        agent = Agent(login="a", name="A", password_hash="x", created_at=long_ago)
        session.add(agent)
        session.flush()
        for name, ended in (("old", now - dt.timedelta(days=40)), ("new", now)):
            session.add(AgentSession(token_key=name, agent_id=agent.id, csrf="c", created_at=ended, expires_at=ended))
            session.add(WorkerSeen(worker=name, seen_at=ended))
        session.add(Job(kind="alarm", state="done", run_at=long_ago, created_at=long_ago))
    clean(service)
    with writing(service.engine) as session:
        assert [session.get(AgentSession, name) is None for name in ("old", "new")] == [True, False]
        assert [session.get(WorkerSeen, name) is None for name in ("old", "new")] == [True, False]
    assert [job.kind for job in rows(service, Job)] == ["retention"]


def test_after_a_change_of_the_secret_numbers_and_consent_move_to_the_new_key(service: Service) -> None:
    contact, _ = add_person(service)
    old = service.sealer
    with writing(service.engine) as session:
        session.add(ConsentEvent(phone_key=old.phone_key(NUMBER), at=service.clock.now(), kind="given"))
    fresh = Sealer(["a-new-secret-0123456789-abcdefghijklmnop", *service.settings.keys])
    clean(replace(service, sealer=fresh))
    person = row(service, Contact, contact)
    assert person.key_id == fresh.key_id
    assert person.phone_key == fresh.phone_key(NUMBER) != old.phone_key(NUMBER)
    assert fresh.open(person.phone_sealed, person.key_id) == NUMBER
    assert rows(service, ConsentEvent)[0].phone_key == person.phone_key


def test_a_phone_is_known_before_and_after_its_number_moves_to_the_new_key(service: Service) -> None:
    contact, _ = add_person(service)
    sealer = Sealer(["a-new-secret-0123456789-abcdefghijklmnop", *service.settings.keys])
    renewed = replace(service, sealer=sealer)
    settings = service.settings
    for sid in ("SM1", "SM2"):
        take_turn(renewed, InboundText(sid, settings.account_sid, NUMBER, settings.number, "how are we doing"))
        assert [person.id for person in rows(service, Contact)] == [contact]
        stop = threading.Event()
        stop.set()
        run(renewed, stop)
    assert row(service, Contact, contact).key_id == sealer.key_id


def test_a_number_under_a_forgotten_key_holds_nothing_up(service: Service) -> None:
    contact, _ = add_person(service)
    other = Sealer(["a-new-secret-0123456789-abcdefghijklmnop"])
    clean(replace(service, sealer=other))
    assert row(service, Contact, contact).key_id == service.sealer.key_id


def test_it_comes_back_early_the_next_morning(service: Service) -> None:
    clean(service)
    (job,) = live_jobs(service)
    assert (job.kind, job.run_at.astimezone(service.county.zone(None)).time()) == ("retention", dt.time(3))
    assert job.run_at - service.clock.now() < dt.timedelta(days=1)


def begun(service: Service, pause: Callable[[float], object], beat: Callable[[], None] = lambda: None) -> Work:
    """The job in the hands of a worker."""
    now = service.clock.now()
    with writing(service.engine) as session:
        jobs.enqueue(session, "retention", key="retention", payload={}, run_at=now, now=now)
        job = jobs.claim(session, "first", now, jobs.LEASE_SECONDS)
    assert job is not None
    return Work(service, job, "first", pause, beat)


def slices(monkeypatch: pytest.MonkeyPatch, count: int, seconds: float) -> None:
    """So many full slices, each of which takes so long."""
    left = [retention.BATCH] * count

    def slow(session: Session, service: Service) -> int:
        time.sleep(seconds)
        return left.pop() if left else 0

    monkeypatch.setitem(retention.STEPS, "picture_links", slow)


def test_work_that_outlasts_its_lease_keeps_it_and_its_worker_is_seen(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs, "LEASE_SECONDS", 2.0)
    slices(monkeypatch, 6, 0.5)
    by_another: list[Job | None] = []
    beats: list[float] = []

    def another_looks(_seconds: float) -> None:
        with writing(service.engine) as session:
            by_another.append(jobs.claim(session, "second", service.clock.now(), 60.0))

    retention.retention(begun(service, another_looks, lambda: beats.append(time.monotonic())))
    assert by_another == [None] * 6
    assert len(beats) >= 3
    (job,) = [each for each in live_jobs(service) if each.kind == "retention"]
    assert (job.state, job.attempts) == ("ready", 0)


def test_work_that_another_took_over_ends(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    slices(monkeypatch, 3, 0.0)
    monkeypatch.setattr(work_module, "RENEWED_AFTER", 0.0)
    taken = begun(service, lambda _: None)
    with writing(service.engine) as session:
        jobs.cancel(session, "retention")
    with pytest.raises(JobLost):
        retention.retention(taken)


def test_a_worker_that_is_told_to_stop_leaves_the_rest_to_the_next(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    slices(monkeypatch, 3, 0.0)
    old = text(service, 366).id
    retention.retention(begun(service, lambda _: True))
    assert row(service, Message, old).body is not None  # a step that comes later
    assert work(service) == 1
    assert row(service, Message, old).body is None
