"""Calls of the practice phone: through the service's own signed webhooks, by the page's addresses and in a terminal."""

from __future__ import annotations

import datetime as dt
import io
import time

import pytest
from fastapi.testclient import TestClient
from rich.console import Console

from guide_service.handset.heard import heard
from guide_service.handset.loopback import LoopbackSender
from guide_service.handset.terminal import TerminalPhone
from guide_service.records import Contact, Message
from guide_service.wiring import Service
from tests.calls.conftest import house_with_places
from tests.handset.conftest import NUMBER
from tests.handset.test_terminal import typing
from tests.people import change, rows, sms, start, work

ENGLISH = ["1", "1"]
"""May we call: call me. Owner."""


def place(phone: TestClient, number: str = NUMBER, **more: object) -> dict[str, object]:
    answer = phone.post("/handset/calls", json={"number": number, **more})
    assert answer.status_code == 200, answer.text
    return answer.json()


def give(phone: TestClient, call: dict[str, object], **said: object) -> dict[str, object]:
    answer = phone.post(f"/handset/calls/{call['call']}", json=said)
    assert answer.status_code == 200, answer.text
    return answer.json()


def words(call: dict[str, object]) -> str:
    return " ".join(line["words"] for line in call["lines"])  # type: ignore[index, attr-defined]


def test_a_call_is_heard_answered_and_hung_up_and_the_next_goes_on(demo: Service, phone: TestClient) -> None:
    call = place(phone)
    assert (call["then"], call["one_key"]) == ("answer", True)
    assert "Larkwater County Extension" in words(call)
    call = give(phone, call, keys=ENGLISH[0])
    assert "I own the home" in words(call)
    assert phone.post(f"/handset/calls/{call['call']}/end", json={}).status_code == 204
    assert phone.post(f"/handset/calls/{call['call']}", json={"keys": "1"}).status_code == 409
    assert [contact.channel for contact in rows(demo, Contact)] == ["call"]
    assert "I own the home" in words(place(phone))


def test_silence_is_an_answer_and_at_last_the_county_hangs_up(phone: TestClient) -> None:
    call, silences = place(phone), 0
    while call["then"] == "answer":
        call, silences = give(phone, call), silences + 1
        assert silences < 10
    assert call["then"] == "over"
    assert silences > 2
    assert phone.post(f"/handset/calls/{call['call']}", json={}).status_code == 409


def test_words_are_understood_as_keys_are(demo: Service, phone: TestClient) -> None:
    call = place(phone)
    assert call["words"] is True
    give(phone, call, words="call me")
    assert [contact.channel for contact in rows(demo, Contact)] == ["call"]


def test_a_hidden_number_is_nobodys(phone: TestClient) -> None:
    assert "does not show its number" in words(place(phone, shown=False))


def wait_for_an_office_hour(phone: TestClient) -> None:
    """The demo begins now, whatever day it is."""
    now = dt.datetime.fromisoformat(phone.get("/handset/numbers").json()["now"])
    noon = now.replace(hour=12, minute=0) + dt.timedelta(days=7 - now.weekday())
    phone.post("/handset/clock", json={"advance_minutes": (noon - now) // dt.timedelta(minutes=1)})


def test_a_person_is_rung_and_nobody_takes_it(phone: TestClient) -> None:
    wait_for_an_office_hour(phone)
    call = give(phone, place(phone), keys="0")
    assert call["then"] == "dial"
    assert str(call["dials"]).startswith("+1202555")
    call = give(phone, call, agent=False)
    assert call["then"] == "answer"
    assert "message" in words(call).lower()
    call = give(phone, call, keys="1")
    assert call["then"] == "record"
    assert give(phone, call, left_seconds=7)["then"] in ("answer", "over")


def ring(demo: Service, phone: TestClient, seconds: float) -> dict[str, str]:
    """A household that chose calls is rung by the worker; the call as the phone shows it."""
    wait_for_an_office_hour(phone)
    contact_id, household_id = house_with_places(demo, NUMBER, places=1)
    change(demo, Contact, contact_id, channel="call")
    start(demo, contact_id, household_id, sms("Time to measure K1."), origin="started")
    sender = demo.sender
    assert isinstance(sender, LoopbackSender)
    sender.rings_for = seconds
    work(demo)
    (text,) = phone.get("/handset/texts", params={"number": NUMBER}).json()["texts"]
    return text


def test_the_county_rings_and_somebody_picks_up(demo: Service, phone: TestClient) -> None:
    rung = ring(demo, phone, seconds=600)
    assert (rung["direction"], rung["body"]) == ("rings", "")
    sid = rung["sid"]
    call = phone.post(f"/handset/calls/{sid}/take", json={}).json()
    assert "Larkwater County Extension" in words(call)
    assert "K 1" not in words(call)
    assert "What can we do now?" in words(give(phone, call, keys="1"))
    assert phone.post(f"/handset/calls/{sid}/end", json={}).status_code == 204
    assert phone.post(f"/handset/calls/{sid}/take", json={}).status_code == 409
    (text,) = phone.get("/handset/texts", params={"number": NUMBER}).json()["texts"]
    assert (text["direction"], text["sid"]) == ("taken", "")
    assert [message.status for message in rows(demo, Message, Message.origin == "started")] == ["delivered"]


def test_the_county_rings_and_nobody_is_there(demo: Service, phone: TestClient) -> None:
    ring(demo, phone, seconds=0)
    for _ in range(200):
        (text,) = phone.get("/handset/texts", params={"number": NUMBER}).json()["texts"]
        if text["direction"] != "rings":
            break
        time.sleep(0.05)
    assert text["direction"] == "missed"


@pytest.mark.parametrize("number", ["+14155552671", "12"])
def test_a_number_of_somebody_is_never_called_from(phone: TestClient, number: str) -> None:
    answer = phone.post("/handset/calls", json={"number": number})
    assert answer.status_code == 422
    assert "555-0100 to 555-0199" in answer.json()["detail"]


def test_keys_that_are_none_are_refused(phone: TestClient) -> None:
    call = place(phone)
    assert phone.post(f"/handset/calls/{call['call']}", json={"keys": "1a"}).status_code == 422


def test_a_call_in_the_terminal(phone: TestClient) -> None:
    screen = io.StringIO()
    terminal = TerminalPhone("", "0123", Console(file=screen, width=300), http=phone)  # type: ignore[arg-type]
    terminal.run(typing("/call", "1", "/hang", "/call hidden", "/hang", "/quit"))
    shown = screen.getvalue()
    assert "May we call you here" in shown
    assert "I own the home: press 1" in shown
    assert "does not show its number" in shown
    assert shown.count("You hung up.") == 2


def test_what_the_carrier_would_do_with_our_answer() -> None:
    gather = heard(
        b'<Response><Say language="en-US">Hello <prosody rate="85%">there</prosody></Say><Gather input="dtmf speech" '
        b'action="https://a/b?step=1" numDigits="1" timeout="8"><Play>https://a/recordings/ht/number--22.wav</Play>'
        b"</Gather><Redirect>https://a/b</Redirect></Response>"
    )
    assert [(line.words, line.language) for line in gather.lines] == [("Hello there", "en-US"), ("number--22", "")]
    assert (gather.then, gather.action, gather.one_key, gather.words) == ("answer", "https://a/b?step=1", True, True)
    assert heard(b"<Response><Say>Bye</Say><Hangup/></Response>").then == "over"
