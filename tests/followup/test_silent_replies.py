"""A reply of which nothing is heard is looked up, and sent only when the carrier does not know it."""

from __future__ import annotations

import datetime as dt

import pytest
from sqlmodel import select

from guide_service import jobs
from guide_service.carrier.recording import RecordingSender
from guide_service.carrier.sender import SentText
from guide_service.database import writing
from guide_service.followup import silent_replies
from guide_service.followup.send_text import written_at
from guide_service.followup.silent_replies import first_id_at
from guide_service.records import Contact, Message
from guide_service.wiring import Service
from tests.people import NUMBER, add_person, bodies, change, live_jobs, row, rows, start, work


def reply(service: Service, contact: int, household: int, age_minutes: float = 20, **values: object) -> Message:
    real = dt.datetime.now(dt.UTC) - dt.timedelta(minutes=age_minutes)
    values = {"origin": "reply", "status": "replied", "at": service.clock.now()} | values
    with writing(service.engine) as session:
        number = len(session.exec(select(Message)).all())
        message = Message(id=first_id_at(real) + number, contact_id=contact, household_id=household, direction="out",
                          body="K1 reads wet.", segments=1, texts=["x"], reply_to=1, **values)  # fmt: skip
        session.add(message)
    return message


def sweep(service: Service) -> None:
    with writing(service.engine) as session:
        now = service.clock.now()
        jobs.enqueue(session, "sweep_replies", key="sweep_replies", payload={}, run_at=now, now=now)
    work(service)


def test_a_reply_that_the_carrier_never_fetched_is_sent(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service)
    silent = reply(service, contact, household)
    sweep(service)
    assert bodies(sender) == ["K1 reads wet."]
    assert row(service, Message, silent.id).carrier_sid == sender.sent[0].sid
    sweep(service)
    assert len(sender.sent) == 1


def test_a_reply_that_the_carrier_has_is_only_noted(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service)
    silent = reply(service, contact, household)
    sender._keep(SentText(NUMBER, "K1 reads wet.", None, 60, "SMreply"))
    sweep(service)
    assert len(sender.sent) == 1
    stored = row(service, Message, silent.id)
    assert (stored.carrier_sid, stored.status) == ("SMreply", "queued")


@pytest.mark.parametrize(
    "values",
    [
        {"age_minutes": 10},
        {"age_minutes": 25 * 60},
        {"status": "delivered", "carrier_sid": "SM1"},
        {"at": dt.datetime(2027, 3, 13, tzinfo=dt.UTC)},
    ],
    ids=["young", "too old", "heard of", "of an earlier day of the demo"],
)
def test_other_replies_are_left_alone(service: Service, sender: RecordingSender, values: dict[str, object]) -> None:
    contact, household = add_person(service)
    reply(service, contact, household, **values)
    sweep(service)
    assert sender.sent == []
    assert [job.kind for job in live_jobs(service)] == ["sweep_replies"]


def test_nobody_who_stopped_us_gets_a_late_reply(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service)
    silent = reply(service, contact, household)
    change(service, Contact, contact, opted_out_at=service.clock.now())
    sweep(service)
    assert sender.sent == []
    assert row(service, Message, silent.id).status == "canceled"


def test_more_than_one_batch_is_swept_in_turns(
    service: Service, sender: RecordingSender, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(silent_replies, "BATCH", 2)
    contact, household = add_person(service)
    for _ in range(5):
        reply(service, contact, household)
    sweep(service)
    assert {message.status for message in rows(service, Message)} == {"queued"} or len(live_jobs(service)) > 1
    assert all(message.status != "replied" for message in rows(service, Message))


def test_the_sweep_puts_itself_in_line_again_with_its_mark(service: Service) -> None:
    sweep(service)
    (job,) = live_jobs(service)
    assert job.run_at == service.clock.now() + silent_replies.EVERY
    behind = dt.datetime.now(dt.UTC) - written_at(job.payload["after"])
    assert silent_replies.SILENT_AFTER <= behind < silent_replies.SILENT_AFTER + dt.timedelta(minutes=1)


def test_a_text_whose_job_was_cancelled_does_not_seem_to_wait_for_ever(service: Service) -> None:
    contact, household = add_person(service)
    taken_back = reply(service, contact, household, origin="started", status="waiting")
    (waiting,) = start(service, contact, household, send_at=service.clock.now() + dt.timedelta(hours=2))
    sweep(service)
    assert row(service, Message, taken_back.id).status == "canceled"
    assert row(service, Message, waiting.id).status == "waiting"
