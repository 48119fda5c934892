"""Texts that we start: rows and jobs, at their hour, taken back when their reason is gone."""

from __future__ import annotations

import datetime as dt

import pytest

from guide_service import outbox
from guide_service.database import writing
from guide_service.records import Contact, Job, Message
from guide_service.wiring import Service
from tests.people import add_person, change, live_jobs, local, row, rows, sms, start


def test_a_text_is_a_row_that_waits_and_a_job_that_names_it(service: Service) -> None:
    contact, household = add_person(service)
    (message,) = start(service, contact, household)
    stored = row(service, Message, message.id)
    assert (stored.direction, stored.origin, stored.status, stored.attempts) == ("out", "started", "waiting", 0)
    assert (stored.body, stored.texts, stored.segments) == ("Time to check your walls.", ["test.reminder"], 1)
    (job,) = live_jobs(service)
    assert (job.kind, job.payload) == ("send_text", {"message": message.id})
    assert job.run_at == service.clock.now()


def test_a_cause_that_is_rolled_back_leaves_neither_text_nor_job(service: Service) -> None:
    contact, household = add_person(service)
    with pytest.raises(ZeroDivisionError):
        start_and_fail(service, contact, household)
    assert rows(service, Message) == []
    assert live_jobs(service) == []


def start_and_fail(service: Service, contact: int, household: int) -> None:
    with writing(service.engine) as session:
        person = session.get_one(Contact, contact)
        outbox.start_text(session, service, contact=person, household_id=household, texts=[sms()], origin="started",
                          send_at=None, key=None)  # fmt: skip
        raise ZeroDivisionError


def test_what_we_start_at_night_waits_for_the_morning_of_the_household(service: Service) -> None:
    contact, household = add_person(service)
    service.clock.at = local(service, 2027, 3, 15, 22, 30)
    start(service, contact, household)
    start(service, contact, household, send_at=local(service, 2027, 3, 18, 6, 0))
    start(service, contact, household, send_at=local(service, 2027, 3, 18, 10, 0))
    assert [job.run_at for job in live_jobs(service)] == [
        local(service, 2027, 3, 16, 8, 0), local(service, 2027, 3, 18, 8, 0), local(service, 2027, 3, 18, 10, 0),
    ]  # fmt: skip


def test_an_agent_answers_at_night_only_somebody_who_wrote_that_day(service: Service) -> None:
    contact, household = add_person(service)
    service.clock.at = local(service, 2027, 3, 15, 22, 30)
    start(service, contact, household, origin="agent")
    change(service, Contact, contact, last_heard_at=service.clock.now() - dt.timedelta(hours=25))
    start(service, contact, household, origin="agent")
    assert {job.run_at for job in live_jobs(service)} == {local(service, 2027, 3, 16, 8, 0)}
    change(service, Contact, contact, last_heard_at=service.clock.now() - dt.timedelta(hours=23))
    start(service, contact, household, origin="agent")
    assert live_jobs(service)[-1].run_at <= service.clock.now()


def test_texts_of_agents_and_alarms_overtake_the_reminders_of_a_morning(service: Service) -> None:
    contact, household = add_person(service, last_heard_at=service.clock.now())
    (reminder,) = start(service, contact, household)
    service.clock.advance(minutes=5)
    (answer,) = start(service, contact, household, origin="agent")
    (alarm,) = start(service, contact, None, origin="alarm")
    due = sorted(live_jobs(service), key=lambda job: job.run_at)
    assert [job.payload["message"] for job in due][-1] == reminder.id
    assert {answer.id, alarm.id} == {job.payload["message"] for job in due[:2]}


def test_a_later_occasion_of_the_same_key_takes_the_earlier_texts_back(service: Service) -> None:
    contact, household = add_person(service)
    early = start(service, contact, household, sms("one"), sms("two"), sms("three"), key="remind:7")
    late = start(service, contact, household, sms("new"), key="remind:7")
    assert [row(service, Message, each.id).status for each in early] == ["canceled"] * 3
    assert [job.payload for job in live_jobs(service)] == [{"message": late[0].id}]


def test_texts_are_taken_back_by_their_key_in_the_transaction_that_started_them(service: Service) -> None:
    contact, household = add_person(service)
    with writing(service.engine) as session:
        person = session.get_one(Contact, contact)
        outbox.start_text(session, service, contact=person, household_id=household, texts=[sms(), sms()],
                          origin="started", send_at=None, key="remind:7")  # fmt: skip
        assert outbox.cancel_texts(session, "remind:7", "remind:8") == 2
    assert live_jobs(service) == []
    assert {message.status for message in rows(service, Message)} == {"canceled"}


def test_an_opt_out_takes_back_all_that_waits_for_this_phone_and_nothing_else(service: Service) -> None:
    contact, household = add_person(service)
    other, _ = add_person(service, "+12025550124")
    start(service, contact, household)
    start(service, contact, household, key="remind:7")
    (kept,) = start(service, other, household)
    (gone,) = start(service, contact, household)
    change(service, Message, gone.id, status="delivered", carrier_sid="SM1")
    with writing(service.engine) as session:
        assert outbox.cancel_texts_to(session, contact) == 2
    statuses = [message.status for message in rows(service, Message)]
    assert sorted(statuses) == ["canceled", "canceled", "delivered", "waiting"]
    assert row(service, Message, kept.id).status == "waiting"


def test_more_texts_than_one_occasion_has_are_refused(service: Service) -> None:
    contact, household = add_person(service)
    with pytest.raises(ValueError, match="at most"):
        start(service, contact, household, *[sms()] * 9)


def test_every_text_has_a_live_job_of_its_own(service: Service) -> None:
    contact, household = add_person(service)
    start(service, contact, household, sms("a"), sms("b"))
    start(service, contact, household, sms("a"), sms("b"), key="k")
    assert len({job.key for job in rows(service, Job)}) == 4
