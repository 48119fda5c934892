"""Reports come in any order, repeated, early and late; what did not arrive is tried again or seen by a person."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest

from guide_service.carrier.form import StatusReport
from guide_service.carrier.recording import RecordingSender
from guide_service.database import writing
from guide_service.followup.delivery_reports import apply_status
from guide_service.records import Contact, Message
from guide_service.wiring import Service
from tests.people import add_person, bodies, escalations, live_jobs, local, row, rows, sms, start, work


def sent(service: Service, contact: int, household: int | None, **how: object) -> Message:
    (message,) = start(service, contact, household, **how)
    work(service)
    return row(service, Message, message.id)


def report(service: Service, message: Message, status: str, code: int | None = None, sid: str | None = None) -> bool:
    return apply_status(service, StatusReport(sid or message.carrier_sid, status, code, str(message.id)))


@pytest.mark.parametrize("order", list(itertools.permutations(["sent", "delivered", "sending"])))
def test_whatever_the_order_the_last_status_holds(service: Service, order: tuple[str, ...]) -> None:
    message = sent(service, *add_person(service))
    for status in order:
        report(service, message, status)
    assert row(service, Message, message.id).status == "delivered"


def test_a_repeated_report_changes_nothing(service: Service) -> None:
    message = sent(service, *add_person(service))
    assert report(service, message, "delivered")
    assert not report(service, message, "delivered")
    assert not report(service, message, "undelivered", 30003)
    assert row(service, Message, message.id).error_code is None
    assert report(service, message, "read")
    assert row(service, Message, message.id).status == "read"


def test_a_report_that_comes_before_we_know_the_carriers_id_finds_its_row(
    service: Service, sender: RecordingSender
) -> None:
    contact, household = add_person(service)
    honest = sender.send_text

    def with_early_report(to: str, body: str, callback: str, validity: int) -> object:
        result = honest(to, body, callback, validity)
        apply_status(service, StatusReport(result.sid, "delivered", None, callback.rpartition("=")[2]))
        return result

    sender.send_text = with_early_report
    message = sent(service, contact, household)
    assert (message.status, message.carrier_sid) == ("delivered", sender.sent[0].sid)


def test_a_report_teaches_the_row_its_id_so_that_a_lost_answer_is_no_second_text(
    service: Service, sender: RecordingSender
) -> None:
    from guide_service.carrier.sender import Ambiguous

    sender._outcomes = [Ambiguous("ReadTimeout")]
    message = sent(service, *add_person(service))
    assert message.carrier_sid is None
    assert report(service, message, "sent", sid="SM77")
    service.clock.advance(minutes=5)
    work(service)
    assert len(sender.sent) == 1
    assert row(service, Message, message.id).carrier_sid == "SM77"


def test_reports_about_unknown_texts_and_inbound_ones_change_nothing(service: Service) -> None:
    contact, household = add_person(service)
    with writing(service.engine) as session:
        inbound = Message(contact_id=contact, household_id=household, direction="in", origin="person", body="hi",
                          carrier_sid="SMin", at=service.clock.now())  # fmt: skip
        session.add(inbound)
    assert not apply_status(service, StatusReport("SMin", "delivered", None, None))
    assert not apply_status(service, StatusReport("SMx", "delivered", None, str(inbound.id)))
    assert not apply_status(service, StatusReport("SMx", "delivered", None, None))
    assert not apply_status(service, StatusReport("SMx", "delivered", None, "12345"))
    assert row(service, Message, inbound.id).status is None


def test_a_report_of_another_text_does_not_touch_the_row_named_in_its_address(service: Service) -> None:
    message = sent(service, *add_person(service))
    assert not report(service, message, "failed", 30003, sid="SMother")
    assert row(service, Message, message.id).status == "queued"


def test_a_phone_that_was_off_is_tried_at_other_hours_and_then_given_up(
    service: Service, sender: RecordingSender
) -> None:
    contact, household = add_person(service)
    message = sent(service, contact, household)
    tried_at = []
    for _ in range(3):
        assert report(service, message, "undelivered", 30003)
        (job,) = [job for job in live_jobs(service) if job.kind == "send_text"]
        tried_at.append(job.run_at)
        service.clock.at = job.run_at
        work(service)
        message = rows(service, Message)[-1]
    assert tried_at == [
        local(service, 2027, 3, 15, 13),
        local(service, 2027, 3, 15, 18),
        local(service, 2027, 3, 16, 9),
    ]
    assert escalations(service) == []
    assert report(service, message, "undelivered", 30003)
    assert bodies(sender) == ["Time to check your walls."] * 4
    assert [each.reason for each in escalations(service)] == ["undeliverable"]
    assert row(service, Contact, contact).undeliverable == "30003"
    assert [job.kind for job in live_jobs(service)] == ["alarm"]


def test_the_row_that_failed_keeps_its_story_and_late_reports_of_it_do_not_reach_the_new_one(service: Service) -> None:
    contact, household = add_person(service)
    first = sent(service, contact, household)
    report(service, first, "undelivered", 30003)
    again = rows(service, Message)[-1]
    assert again.id != first.id
    assert (again.body, again.status, again.carrier_sid) == (first.body, "waiting", None)
    report(service, first, "delivered")
    report(service, first, "undelivered", 30003)
    assert [each.status for each in rows(service, Message)] == ["undelivered", "waiting"]


def test_a_retry_waits_for_the_day_of_the_household(service: Service) -> None:
    contact, household = add_person(service)
    message = sent(service, contact, household)
    service.clock.at = local(service, 2027, 3, 15, 20, 30)
    report(service, message, "undelivered", 30001)
    service.clock.at = local(service, 2027, 3, 15, 20, 59)
    work(service)
    (job,) = [job for job in live_jobs(service) if job.kind == "send_text"]
    assert job.run_at == local(service, 2027, 3, 16, 8)


def test_a_daily_cap_holds_the_text_until_the_carriers_midnight_and_our_morning(service: Service) -> None:
    message = sent(service, *add_person(service))
    report(service, message, "undelivered", 30023)
    (job,) = live_jobs(service)
    assert job.run_at == local(service, 2027, 3, 16, 8)


@pytest.mark.parametrize(("code", "phone_marked"), [(30004, True), (30006, True), (30007, False), (30034, False)])
def test_what_cannot_help_is_not_sent_again_and_a_person_sees_it(
    service: Service, sender: RecordingSender, code: int, phone_marked: bool
) -> None:
    contact, household = add_person(service)
    report(service, sent(service, contact, household), "undelivered", code)
    service.clock.advance(days=2)
    assert len([job for job in live_jobs(service) if job.kind == "send_text"]) == 0
    assert [each.reason for each in escalations(service)] == ["undeliverable"]
    assert row(service, Contact, contact).undeliverable == (str(code) if phone_marked else None)


def test_an_account_that_is_suspended_holds_the_queue_and_every_household_is_seen(
    service: Service, sender: RecordingSender
) -> None:
    people = [add_person(service, f"+1202555012{n}") for n in range(2)]
    messages = [sent(service, *person) for person in people]
    for message in messages:
        report(service, message, "undelivered", 30002)
    assert {each.household_id for each in escalations(service)} == {household for _, household in people}
    start(service, *people[0], origin="agent")
    work(service)
    assert len(sender.sent) == 2


def test_two_failures_of_one_household_are_one_escalation(service: Service) -> None:
    contact, household = add_person(service)
    messages = [sent(service, contact, household, origin="agent") for _ in range(2)]
    for message in messages:
        report(service, message, "undelivered", 30006)
    (raised,) = escalations(service)
    assert raised.times == 2


def test_an_opt_out_told_by_a_report_marks_the_contact_and_takes_back_what_waits(service: Service) -> None:
    contact, household = add_person(service)
    message = sent(service, contact, household)
    (later,) = start(service, contact, household, sms("b"), send_at=service.clock.now() + dt.timedelta(hours=2))
    report(service, message, "undelivered", 21610)
    assert row(service, Contact, contact).opted_out_at == service.clock.now()
    assert row(service, Message, later.id).status == "canceled"
    assert escalations(service) == []
    assert [job for job in live_jobs(service) if job.kind == "send_text"] == []


def test_a_reply_that_did_not_arrive_is_sent_as_a_text_of_ours(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service)
    with writing(service.engine) as session:
        reply = Message(contact_id=contact, household_id=household, direction="out", origin="reply", reply_to=1,
                        body="K1 reads wet.", segments=1, texts=["x"], at=service.clock.now())  # fmt: skip
        session.add(reply)
    assert report(service, reply, "undelivered", 30003, sid="SMreply")
    again = rows(service, Message)[-1]
    assert (again.origin, again.reply_to, again.body) == ("started", None, "K1 reads wet.")
    service.clock.advance(hours=3)
    work(service)
    assert bodies(sender) == ["K1 reads wet."]


def test_an_alarm_that_does_not_reach_an_agent_raises_nothing_about_a_household(service: Service) -> None:
    contact, _ = add_person(service)
    report(service, sent(service, contact, None, origin="alarm"), "undelivered", 30004)
    assert escalations(service) == []
