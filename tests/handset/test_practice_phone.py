"""The practice phone's addresses, on the whole application: a text in, the reply out, time that passes."""

from __future__ import annotations

import dataclasses
import datetime as dt
import threading
import time
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from guide_service.app import create_app
from guide_service.carrier.sender import Accepted, Refused
from guide_service.database import reading, writing
from guide_service.followup.worker import Worker
from guide_service.handset.carrier_side import CarrierSide
from guide_service.handset.texts import RECEIVED, keep
from guide_service.outbox import start_text
from guide_service.records import Contact, Job, Message
from guide_service.wiring import Service
from guide_service.wording.sms import SmsText
from tests.handset.conftest import NUMBER


def send(phone: TestClient, body: str, number: str = NUMBER) -> list[dict[str, Any]]:
    answer = phone.post("/handset/texts", json={"number": number, "body": body})
    assert answer.status_code == 200, answer.text
    texts: list[dict[str, Any]] = answer.json()["texts"]
    return texts


def seen(phone: TestClient, number: str = NUMBER) -> list[dict[str, Any]]:
    texts: list[dict[str, Any]] = phone.get("/handset/texts", params={"number": number}).json()["texts"]
    return texts


def minutes_to_noon(demo: Service, days: int) -> int:
    """Noon in the county, so many days on: what we start goes out by day."""
    now = demo.clock.now().astimezone(demo.county.zone(None))
    noon = now.replace(hour=12, minute=0) + dt.timedelta(days=days)
    return int((noon - now).total_seconds() // 60)


def eventually(what: object, seconds: float = 5.0) -> None:
    """Waits for something that another thread does."""
    until = time.monotonic() + seconds
    while not what():  # type: ignore[operator]
        assert time.monotonic() < until, "it did not happen"
        time.sleep(0.02)


def test_a_text_goes_through_the_webhook_and_its_reply_arrives(phone: TestClient, demo: Service) -> None:
    mine, *theirs = send(phone, "hello")
    assert (mine["direction"], mine["body"], mine["segments"]) == ("sent", "hello", 1)
    assert theirs
    assert theirs[0]["direction"] == "received"
    assert "Larkwater County Extension" in theirs[0]["body"]
    assert seen(phone) == [mine, *theirs]
    with reading(demo.engine) as session:
        inbound = session.exec(select(Message).where(Message.direction == "in")).one()
    assert (inbound.body, inbound.outcome) == ("hello", "reply")


def test_replies_are_reported_as_delivered(phone: TestClient, demo: Service) -> None:
    send(phone, "hello")

    def delivered() -> bool:
        with reading(demo.engine) as session:
            rows = session.exec(select(Message.status).where(Message.direction == "out")).all()
        return bool(rows) and set(rows) == {"delivered"}

    eventually(delivered)


def test_numbers_are_written_as_people_write_them_and_kept_apart(phone: TestClient) -> None:
    send(phone, "hello", "(202) 555-0124")
    assert len(seen(phone, "+12025550124")) >= 2
    assert seen(phone, NUMBER) == []
    assert phone.get("/handset/numbers").json()["numbers"] == ["+12025550124"]


@pytest.mark.parametrize("number", ["+14155552671", "911", "", "+12025550123\n"])
def test_a_number_that_may_be_somebodys_is_refused(phone: TestClient, number: str) -> None:
    answer = phone.post("/handset/texts", json={"number": number, "body": "hi"})
    assert answer.status_code == (200 if number.strip() == NUMBER else 422)


def test_a_form_of_another_site_cannot_post(phone: TestClient) -> None:
    assert phone.post("/handset/texts", data={"number": NUMBER, "body": "hi"}).status_code == 422
    assert phone.post("/handset/clock", data={"advance_minutes": "60"}).status_code == 422


def test_the_clock_moves_forward_for_everybody(phone: TestClient, demo: Service) -> None:
    before = demo.clock.now()
    answer = phone.post("/handset/clock", json={"advance_minutes": 2 * 1440})
    now = dt.datetime.fromisoformat(answer.json()["now"])
    assert dt.timedelta(days=2) - dt.timedelta(seconds=2) < now - before < dt.timedelta(days=2, minutes=1)
    assert abs((demo.clock.now() - now).total_seconds()) < 60
    assert phone.post("/handset/clock", json={"advance_minutes": -5}).status_code == 422


def test_what_the_service_starts_arrives_after_time_has_passed(phone: TestClient, demo: Service) -> None:
    send(phone, "hello")
    with writing(demo.engine) as session:
        contact = session.exec(select(Contact)).one()
        text = SmsText("Time to measure K1.", "GSM-7", 1, ())
        at = demo.clock.now() + dt.timedelta(days=3)
        start_text(
            session, demo, contact=contact, household_id=None, texts=[text], origin="started", send_at=at, key="t"
        )
    worker = Worker(demo, "test", threading.Event())
    while worker.work_once():
        pass
    assert "Time to measure K1." not in [each["body"] for each in seen(phone)]
    phone.post("/handset/clock", json={"advance_minutes": minutes_to_noon(demo, days=4)})
    while worker.work_once():
        pass
    assert seen(phone)[-1]["body"] == "Time to measure K1."


def test_the_senders_refusals_are_the_carriers(demo: Service) -> None:
    assert demo.sender.send_text("nobody", "hi", None, 60) == Refused(21211, 0)
    assert demo.sender.send_text(NUMBER, " ", None, 60) == Refused(21602, 0)
    accepted = demo.sender.send_text(NUMBER, "hi", None, 60)
    assert isinstance(accepted, Accepted)


def test_a_sent_text_is_found_again_unless_it_is_another_rows(demo: Service) -> None:
    since = dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1)
    demo.clock.advance(60 * 24)  # type: ignore[attr-defined]
    sid = keep(demo.engine, NUMBER, RECEIVED, "hi", "SM77", demo.clock.now()).sid
    assert demo.sender.find_sent(NUMBER, "hi", since, "1") == sid
    assert demo.sender.find_sent(NUMBER, "hi", since, "1", {sid}) is None
    assert demo.sender.find_sent(NUMBER, "other", since, "1") is None
    assert demo.sender.find_sent(NUMBER, "hi", since + dt.timedelta(minutes=5), "1") is None


def test_without_the_demo_there_is_no_practice_phone(demo: Service) -> None:
    settings = demo.settings.model_copy(update={"demo": False})
    client = TestClient(create_app(dataclasses.replace(demo, settings=settings)))
    for address in (
        "/handset",
        "/handset/texts?number=%2B12025550123",
        "/handset/numbers",
        "/handset/static/handset.js",
    ):
        assert client.get(address).status_code == 404
    assert client.post("/handset/clock", json={"advance_minutes": 1}).status_code == 404


def test_a_service_that_does_not_answer_is_told_in_one_line(phone: TestClient, demo: Service) -> None:
    unreachable = demo.settings.model_copy(update={"public_url": "http://127.0.0.1:9"})
    phone.app.state.carrier_side = CarrierSide(unreachable)  # type: ignore[attr-defined]
    answer = phone.post("/handset/texts", json={"number": NUMBER, "body": "hi"})
    assert answer.status_code == 502
    assert "did not reach the service" in answer.json()["detail"]
    phone.app.state.carrier_side.close()  # type: ignore[attr-defined]
    with reading(demo.engine) as session:
        assert session.exec(select(Job)).all() == []
