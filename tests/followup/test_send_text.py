"""A text of ours goes out once, at its hour, to those who want it; what goes wrong is found out, never guessed."""

from __future__ import annotations

import datetime as dt
import threading

import pytest
from sqlalchemy import update

from guide_service import jobs, outbox
from guide_service.carrier.recording import RecordingSender
from guide_service.carrier.sender import Accepted, Ambiguous, LookUpFailed, RateLimited, Refused
from guide_service.database import writing
from guide_service.followup import send_rate, send_text
from guide_service.followup.worker import Worker
from guide_service.records import ConsentEvent, Contact, Job, Message, SendBucket
from guide_service.wiring import Service
from tests.people import (
    NUMBER,
    add_person,
    bodies,
    change,
    escalations,
    live_jobs,
    local,
    row,
    rows,
    sms,
    start,
    work,
)


def test_a_text_goes_out_once_with_the_address_for_its_reports(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service)
    (message,) = start(service, contact, household)
    assert work(service) == 1
    (sent,) = sender.sent
    assert (sent.to, sent.body) == (NUMBER, "Time to check your walls.")
    assert sent.status_callback == f"{service.settings.address}/carrier/status?row={message.id}"
    stored = row(service, Message, message.id)
    assert (stored.status, stored.carrier_sid, stored.attempts) == ("queued", sent.sid, 1)
    assert work(service) == 0
    assert [job.state for job in rows(service, Job)] == ["done"]


class Interrupted(BaseException):
    """Stands for SIGKILL: nothing of ours catches it."""


def interrupt_at(service: Service, sender: RecordingSender, monkeypatch: pytest.MonkeyPatch, after: bool) -> None:
    """The worker dies while the carrier is asked, before or after the carrier took the text."""
    honest = sender.send_text

    def dying(*arguments: object) -> None:
        if after:
            honest(*arguments)
        raise Interrupted

    with monkeypatch.context() as patch:
        patch.setattr(sender, "send_text", dying)
        with pytest.raises(Interrupted):
            work(service, "w1")
    let_leases_run_out(service)


def let_leases_run_out(service: Service) -> None:
    with writing(service.engine) as session:
        session.execute(update(Job).values(lease_until=dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1)))


def test_the_attempt_is_stored_before_the_carrier_is_asked(
    service: Service, sender: RecordingSender, monkeypatch: pytest.MonkeyPatch
) -> None:
    contact, household = add_person(service)
    (message,) = start(service, contact, household)
    interrupt_at(service, sender, monkeypatch, after=False)
    stored = row(service, Message, message.id)
    assert (stored.status, stored.attempts, stored.carrier_sid) == ("attempted", 1, None)


def test_a_worker_that_died_after_the_carrier_took_the_text_does_not_text_twice(
    service: Service, sender: RecordingSender, monkeypatch: pytest.MonkeyPatch
) -> None:
    contact, household = add_person(service)
    (message,) = start(service, contact, household)
    interrupt_at(service, sender, monkeypatch, after=True)
    assert work(service, "w2") == 1
    assert len(sender.sent) == 1
    stored = row(service, Message, message.id)
    assert (stored.carrier_sid, stored.status) == (sender.sent[0].sid, "queued")


def test_a_worker_that_died_before_the_carrier_had_it_loses_nothing(
    service: Service, sender: RecordingSender, monkeypatch: pytest.MonkeyPatch
) -> None:
    contact, household = add_person(service)
    (message,) = start(service, contact, household)
    interrupt_at(service, sender, monkeypatch, after=False)
    assert work(service, "w2") == 1
    assert len(sender.sent) == 1
    assert row(service, Message, message.id).attempts == 2


def test_two_texts_with_the_same_words_are_not_taken_for_each_other(
    service: Service, sender: RecordingSender, monkeypatch: pytest.MonkeyPatch
) -> None:
    contact, household = add_person(service)
    start(service, contact, household)
    work(service)
    (second,) = start(service, contact, household)
    interrupt_at(service, sender, monkeypatch, after=False)
    work(service, "w2")
    assert len(sender.sent) == 2
    assert row(service, Message, second.id).carrier_sid == sender.sent[1].sid


def test_a_lost_answer_is_looked_up_later_and_sent_again_only_if_the_carrier_has_nothing(
    service: Service, sender: RecordingSender
) -> None:
    contact, household = add_person(service)
    sender._outcomes = [Ambiguous("ReadTimeout")]
    (message,) = start(service, contact, household)
    assert work(service) == 1
    stored = row(service, Message, message.id)
    assert (stored.status, stored.carrier_sid, len(sender.sent)) == ("attempted", None, 1)
    assert work(service) == 0, "it is looked up a little later, when the carrier's list can show it"
    service.clock.advance(seconds=31)
    assert work(service) == 1
    assert len(sender.sent) == 1
    assert row(service, Message, message.id).carrier_sid == sender.sent[0].sid


def test_nothing_is_sent_again_while_the_carrier_cannot_be_asked(
    service: Service, sender: RecordingSender, monkeypatch: pytest.MonkeyPatch
) -> None:
    contact, household = add_person(service)
    (message,) = start(service, contact, household)
    interrupt_at(service, sender, monkeypatch, after=True)

    def no_answer(*_arguments: object, **_more: object) -> str:
        raise LookUpFailed("ReadTimeout")

    with monkeypatch.context() as patch:
        patch.setattr(sender, "find_sent", no_answer)
        assert work(service, "w2") == 1
    (job,) = live_jobs(service)
    assert job.last_error.startswith("LookUpFailed")
    service.clock.advance(minutes=5)
    work(service, "w2")
    assert len(sender.sent) == 1
    assert row(service, Message, message.id).carrier_sid


def test_without_a_connection_nothing_can_be_out_and_it_is_tried_again(
    service: Service, sender: RecordingSender
) -> None:
    contact, household = add_person(service)
    sender._outcomes = [Ambiguous("ConnectError", may_be_out=False)] * 3
    (message,) = start(service, contact, household)
    for _ in range(4):
        work(service)
        service.clock.advance(minutes=2)
    assert bodies(sender) == ["Time to check your walls."]
    assert row(service, Message, message.id).attempts == 4


def test_answers_that_are_lost_again_and_again_end_with_a_person(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service)
    lost = Ambiguous("ReadTimeout")
    sender._outcomes = [lost] * 20
    sender._keep = lambda _text: None  # the carrier never has it
    (message,) = start(service, contact, household)
    for _ in range(20):
        work(service)
        service.clock.advance(minutes=5)
    stored = row(service, Message, message.id)
    assert (stored.status, stored.attempts) == ("failed", send_text.MOST_LOST_ANSWERS)
    assert [each.reason for each in escalations(service)] == ["undeliverable"]
    assert not [job for job in live_jobs(service) if job.kind == "send_text"]


def test_nobody_who_opted_out_meanwhile_is_texted(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service)
    (message,) = start(service, contact, household, send_at=service.clock.now() + dt.timedelta(hours=1))
    change(service, Contact, contact, opted_out_at=service.clock.now())
    service.clock.advance(hours=2)
    assert work(service) == 1
    assert sender.sent == []
    assert row(service, Message, message.id).status == "canceled"


def test_a_phone_that_reaches_nobody_is_texted_by_agents_only(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service, undeliverable="30006", last_heard_at=service.clock.now())
    (reminder,) = start(service, contact, household)
    start(service, contact, household, sms("Please call us."), origin="agent")
    work(service)
    assert bodies(sender) == ["Please call us."]
    stored = row(service, Message, reminder.id)
    assert (stored.status, stored.error_code) == ("canceled", "30006")


def test_a_backlog_does_not_spill_into_the_night(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service)
    service.clock.at = local(service, 2027, 3, 15, 20, 50)
    start(service, contact, household)
    service.clock.at = local(service, 2027, 3, 15, 22, 0)
    work(service)
    assert sender.sent == []
    assert [job.run_at for job in live_jobs(service)] == [local(service, 2027, 3, 16, 8, 0)]
    service.clock.at = local(service, 2027, 3, 16, 8, 0)
    work(service)
    assert len(sender.sent) == 1


def test_the_carrier_may_not_keep_a_text_until_the_night(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service)
    service.clock.at = local(service, 2027, 3, 15, 20, 50)
    start(service, contact, household)
    work(service)
    assert sender.sent[0].validity_seconds == 600


def test_a_text_whose_reason_is_gone_while_a_worker_holds_it_is_not_sent(
    service: Service, sender: RecordingSender
) -> None:
    contact, household = add_person(service)
    (message,) = start(service, contact, household, key="remind:7")
    worker = Worker(service, "w1", threading.Event())
    with writing(service.engine) as session:
        job = jobs.claim(session, "w1", service.clock.now(), 60)
    with writing(service.engine) as session:
        assert outbox.cancel_texts(session, "remind:7") == 1
    worker._do(job)
    assert sender.sent == []
    assert row(service, Message, message.id).status == "canceled"


def test_a_text_taken_back_while_the_carrier_refuses_it_stays_taken_back(
    service: Service, sender: RecordingSender
) -> None:
    contact, household = add_person(service)
    (message,) = start(service, contact, household, key="remind:7")

    def taken_back(*_arguments: object) -> RateLimited:
        with writing(service.engine) as session:
            outbox.cancel_texts(session, "remind:7")
        return RateLimited(None)

    sender.send_text = taken_back
    work(service)
    assert row(service, Message, message.id).status == "canceled"
    assert live_jobs(service) == []


def test_a_text_taken_back_too_late_is_known_to_be_out(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service)
    (message,) = start(service, contact, household, key="remind:7")

    def taken_back(*_arguments: object) -> Accepted:
        with writing(service.engine) as session:
            outbox.cancel_texts(session, "remind:7")
        return Accepted("SM1", "queued", 1)

    sender.send_text = taken_back
    work(service)
    stored = row(service, Message, message.id)
    assert (stored.status, stored.carrier_sid) == ("queued", "SM1")


@pytest.mark.parametrize("code", [21211, 21614])
def test_a_number_that_cannot_be_texted_is_given_up_and_a_person_sees_it(
    service: Service, sender: RecordingSender, code: int
) -> None:
    contact, household = add_person(service)
    sender._outcomes = [Refused(code, 400)]
    (message,) = start(service, contact, household)
    work(service)
    stored = row(service, Message, message.id)
    assert (stored.status, stored.error_code) == ("failed", str(code))
    assert row(service, Contact, contact).undeliverable == str(code)
    (raised,) = escalations(service)
    assert (raised.household_id, raised.reason, raised.state) == (household, "undeliverable", "waiting")
    assert [job.kind for job in live_jobs(service)] == ["alarm"]


def test_a_code_that_nobody_knows_goes_to_a_person_but_says_nothing_about_the_phone(
    service: Service, sender: RecordingSender
) -> None:
    contact, household = add_person(service)
    sender._outcomes = [Refused(99999, 400)]
    start(service, contact, household)
    work(service)
    assert row(service, Contact, contact).undeliverable is None
    assert [each.reason for each in escalations(service)] == ["undeliverable"]


def test_an_opt_out_at_the_carrier_holds_here_too(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service)
    sender._outcomes = [Refused(21610, 400)]
    first, later = start(service, contact, household, sms("a")), start(service, contact, household, sms("b"))
    with writing(service.engine) as session:
        now = service.clock.now()
        jobs.enqueue(session, "check_due", key=f"check:{household}", payload={"household": household}, run_at=now
                     + dt.timedelta(days=3), now=now)  # fmt: skip
    work(service)
    person = row(service, Contact, contact)
    assert person.opted_out_at == service.clock.now()
    (event,) = rows(service, ConsentEvent)
    assert (event.kind, event.source, event.phone_key) == ("stop", "carrier", person.phone_key)
    assert row(service, Message, first[0].id).status == "failed"
    assert row(service, Message, later[0].id).status == "canceled"
    assert sender.sent == []
    assert live_jobs(service) == []
    assert escalations(service) == []


def test_the_check_of_a_household_stays_while_another_of_its_phones_listens(
    service: Service, sender: RecordingSender
) -> None:
    from guide_service.records import Membership

    contact, household = add_person(service)
    other, _ = add_person(service, "+12025550124")
    with writing(service.engine) as session:
        now = service.clock.now()
        session.add(Membership(contact_id=other, household_id=household, role="owner", joined_at=now))
        jobs.enqueue(session, "check_due", key=f"check:{household}", payload={"household": household},
                     run_at=now + dt.timedelta(days=3), now=now)  # fmt: skip
    sender._outcomes = [Refused(21610, 400)]
    start(service, contact, household)
    work(service)
    assert [job.kind for job in live_jobs(service)] == ["check_due"]


def test_when_our_account_is_refused_the_queue_is_held_and_the_operator_told_once(
    service: Service, sender: RecordingSender
) -> None:
    people = [add_person(service, f"+1202555012{n}") for n in range(3)]
    sender._outcomes = [Refused(20003, 401)]
    messages = [start(service, *person)[0] for person in people]
    work(service)
    assert sender.sent == []
    assert {row(service, Message, each.id).status for each in messages} == {"waiting"}
    assert [(each.reason, each.detail["code"]) for each in escalations(service)] == [("undeliverable", 20003)]
    with writing(service.engine) as session:
        session.execute(update(SendBucket).values(filled_at=dt.datetime.now(dt.UTC), available=5.0))
    service.clock.advance(minutes=16)
    work(service)
    assert len([text for text in sender.sent if text.to != service.county.on_call[0]]) == 3


def test_a_country_that_is_not_enabled_stops_one_text_and_not_the_queue(
    service: Service, sender: RecordingSender
) -> None:
    people = [add_person(service, f"+1202555012{n}") for n in range(2)]
    sender._outcomes = [Refused(21408, 403)]
    messages = [start(service, *person)[0] for person in people]
    work(service)
    assert [row(service, Message, each.id).status for each in messages] == ["failed", "queued"]
    assert [each.household_id for each in escalations(service)] == [people[0][1]]


def test_too_many_requests_pause_all_workers(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service)
    sender._outcomes = [RateLimited(60.0)]
    start(service, contact, household)
    work(service, "w1")
    start(service, contact, household)
    work(service, "w2")
    assert sender.sent == []
    with writing(service.engine) as session:
        rate = service.county.hours.segments_per_second
        wait, booked = send_rate.book(session, service.settings.number, 1, rate, dt.datetime.now(dt.UTC))
    assert not booked
    assert 50 < wait <= 61


def test_a_dead_job_leaves_no_text_that_seems_to_wait(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    contact, household = add_person(service)
    (message,) = start(service, contact, household)

    def broken(*_arguments: object) -> None:
        raise RuntimeError("words that may hold a number")

    monkeypatch.setattr(send_text, "_begin", broken)
    for _ in range(jobs.MAX_ATTEMPTS):
        work(service)
        service.clock.advance(hours=1)
    assert row(service, Message, message.id).status == "failed"
    assert [each.reason for each in escalations(service)] == ["undeliverable"]
    (dead,) = rows(service, Job, Job.state == "dead")
    assert dead.last_error.startswith("RuntimeError at")
    assert "number" not in dead.last_error
