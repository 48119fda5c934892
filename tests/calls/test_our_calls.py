"""Calls that we make: who chose calls is rung, hears nothing of the house before a key, and can stop them with one."""

from __future__ import annotations

from guide_service.records import Contact, Message
from tests.calls.conftest import house_with_places
from tests.calls.phone import Exchange, Phone
from tests.people import change, live_jobs, local, row, rows, sms, start, work

SECRETS = ("K 1", "kitchen", "measure")


def rung(exchange: Exchange, origin: str = "started", words: str = "Time to measure K1.") -> Phone:
    """A house that chose calls is called; somebody answers."""
    contact_id, household_id = house_with_places(exchange.service, places=1)
    change(exchange.service, Contact, contact_id, channel="call")
    start(exchange.service, contact_id, household_id, sms(words), origin=origin)
    work(exchange.service)
    (placed,) = exchange.service.sender.calls  # type: ignore[attr-defined]
    phone = Phone(exchange, sid=placed.sid, direction="outbound-api", verstat="")
    phone.ring(placed.url)
    return phone


def status(exchange: Exchange, phone: Phone, what: str) -> None:
    (placed,) = exchange.service.sender.calls[-1:]  # type: ignore[attr-defined]
    answer = exchange.post(placed.status_callback, phone.form(CallStatus=what))
    assert answer.status_code == 204


def test_nothing_of_the_house_is_told_before_a_key_is_given(exchange: Exchange) -> None:
    phone = rung(exchange)
    for _ in range(4):
        assert not any(secret in phone.says for secret in SECRETS)
        phone.nothing()
    assert phone.over
    assert not any(secret in said for said in phone.heard for secret in SECRETS)


def test_the_caller_hears_it_and_goes_on_as_in_any_call(exchange: Exchange) -> None:
    phone = rung(exchange)
    phone.key("1")
    assert phone.gather is not None
    status(exchange, phone, "completed")
    assert [m.status for m in rows(exchange.service, Message, Message.origin == "started")] == ["delivered"]


def test_what_an_agent_wrote_is_said(exchange: Exchange) -> None:
    phone = rung(exchange, origin="agent", words="Please leave the fan on.")
    assert "leave the fan on" not in phone.says
    assert "leave the fan on" in phone.key("1")


def test_all_that_an_agent_wrote_is_brought_by_one_call(exchange: Exchange) -> None:
    contact_id, household_id = house_with_places(exchange.service, places=1)
    change(exchange.service, Contact, contact_id, channel="call")
    texts = (sms("Keep the fan on."), sms("Open the window."))
    (message,) = start(exchange.service, contact_id, household_id, *texts, origin="agent")
    assert message.body == "Keep the fan on.\nOpen the window."


def test_one_key_stops_calls_and_texts(exchange: Exchange) -> None:
    phone = rung(exchange)
    phone.key("3")
    contact = rows(exchange.service, Contact)[0]
    assert contact.opted_out_at is not None
    start(exchange.service, contact.id, None, sms())
    work(exchange.service)
    assert len(exchange.service.sender.calls) == 1  # type: ignore[attr-defined]


def test_a_call_that_nobody_takes_is_made_once_more(exchange: Exchange) -> None:
    phone = rung(exchange)
    status(exchange, phone, "no-answer")
    status(exchange, phone, "no-answer")
    exchange.service.clock.advance(hours=3)  # type: ignore[attr-defined]
    work(exchange.service)
    assert len(exchange.service.sender.calls) == 2  # type: ignore[attr-defined]
    status(exchange, phone, "no-answer")
    exchange.service.clock.advance(hours=3)  # type: ignore[attr-defined]
    work(exchange.service)
    assert len(exchange.service.sender.calls) == 2  # type: ignore[attr-defined]


def test_nobody_is_rung_at_night(exchange: Exchange) -> None:
    service = exchange.service
    service.clock.at = local(service, 2027, 3, 15, 22, 0)  # type: ignore[attr-defined]
    contact_id, household_id = house_with_places(service, places=1)
    change(service, Contact, contact_id, channel="call")
    (message,) = start(service, contact_id, household_id, sms())
    work(service)
    assert service.sender.calls == []  # type: ignore[attr-defined]
    assert row(service, Message, message.id).status == "waiting"
    due = [job.run_at for job in live_jobs(service) if job.kind == "send_text"]
    assert due == [local(service, 2027, 3, 16, 8, 0)]
