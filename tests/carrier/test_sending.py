"""Sending through the carrier's package and our transport. Every request is held against the published description."""

from __future__ import annotations

import datetime as dt
import logging
import socket
import threading
from collections.abc import Callable, Iterator
from email.utils import format_datetime
from typing import Any

import httpx
import pytest
import respx

from guide_service.carrier.delivery import Action, policy_for
from guide_service.carrier.form import status_address
from guide_service.carrier.recording import RecordingSender
from guide_service.carrier.sender import Accepted, Ambiguous, LookUpFailed, RateLimited, Refused, Sender
from guide_service.carrier.sending import CarrierSender
from guide_service.carrier.transport import TIMEOUT, quiet_client
from tests.published.openapi_slice import check_answer, check_request, form_of

ACCOUNT = "AC" + "0" * 32
TOKEN = "a token of the tests"
NUMBER = "+12025550100"
TO = "+12025550123"
BODY = "K2 đọc 14.5 %. Reply 1 & wait"
MESSAGES = f"https://api.twilio.com/2010-04-01/Accounts/{ACCOUNT}/Messages.json"
STATUS = status_address("https://guide.example", "0190-abc")
SENT_AT = dt.datetime(2026, 3, 2, 15, 30, 10, 654321, tzinfo=dt.UTC)

Answer = Callable[[httpx.Request], httpx.Response]


@pytest.fixture
def carrier() -> Iterator[respx.MockRouter]:
    with respx.mock(assert_all_called=True) as router:
        yield router


@pytest.fixture
def sender() -> Iterator[CarrierSender]:
    made = CarrierSender(ACCOUNT, TOKEN, NUMBER)
    yield made
    made.close()


def message(**changes: Any) -> dict[str, Any]:
    """A Message as the API returns it."""
    stamp = format_datetime(SENT_AT.replace(microsecond=0))
    usual = {
        "sid": "SM" + "1" * 32,
        "account_sid": ACCOUNT,
        "status": "queued",
        "direction": "outbound-api",
        "from": NUMBER,
        "to": TO,
        "body": BODY,
        "num_segments": "1",
        "num_media": "0",
        "error_code": None,
        "error_message": None,
        "price": None,
        "price_unit": "USD",
        "api_version": "2010-04-01",
        "date_created": stamp,
        "date_updated": stamp,
        "date_sent": None,
        "messaging_service_sid": None,
        "uri": f"/2010-04-01/Accounts/{ACCOUNT}/Messages/SM{'1' * 32}.json",
        "subresource_uris": {},
    }
    return usual | changes


def checked(answer: httpx.Response | Exception) -> Answer:
    """Holds the request against the description, then answers."""

    def side_effect(request: httpx.Request) -> httpx.Response:
        check_request(request)
        if isinstance(answer, Exception):
            raise answer
        if answer.is_success and answer.content.startswith(b"{"):
            check_answer(request, answer)
        return answer

    return side_effect


def error(status: int, code: int, text: str = "", **headers: str) -> httpx.Response:
    body = {"code": code, "message": text, "more_info": "https://www.twilio.com/docs/errors", "status": status}
    return httpx.Response(status, json=body, headers=headers)


def send(sender: Sender, to: str = TO, body: str = BODY, validity: int = 600) -> object:
    return sender.send_text(to, body, STATUS, validity)


def test_an_accepted_text_brings_its_sid(carrier: respx.MockRouter, sender: CarrierSender) -> None:
    route = carrier.post(MESSAGES).mock(side_effect=checked(httpx.Response(201, json=message(num_segments="2"))))
    assert send(sender) == Accepted("SM" + "1" * 32, "queued", 2)
    assert form_of(route.calls.last.request) == {
        "To": TO,
        "From": NUMBER,
        "Body": BODY,
        "StatusCallback": "https://guide.example/carrier/status?row=0190-abc",
        "ValidityPeriod": "600",
    }


def test_a_text_without_a_status_address_names_none(carrier: respx.MockRouter, sender: CarrierSender) -> None:
    route = carrier.post(MESSAGES).mock(side_effect=checked(httpx.Response(201, json=message())))
    assert isinstance(sender.send_text(TO, BODY, None, 36_000), Accepted)
    assert "StatusCallback" not in form_of(route.calls.last.request)


def test_the_longest_text_is_sent_whole(carrier: respx.MockRouter, sender: CarrierSender) -> None:
    route = carrier.post(MESSAGES).mock(side_effect=checked(httpx.Response(201, json=message())))
    send(sender, body="😀" * 1600)
    assert form_of(route.calls.last.request)["Body"] == "😀" * 1600


@pytest.mark.parametrize(
    ("status", "code", "action"),
    [
        (401, 20003, Action.ALARM),
        (400, 21211, Action.GIVE_UP_NUMBER),
        (400, 21606, Action.ALARM),
        (400, 21610, Action.MARK_OPTED_OUT),
        (400, 21612, Action.GIVE_UP_SMS),
        (429, 21611, Action.RETRY_LATER),
    ],
)
def test_a_refusal_brings_the_code_that_the_policy_knows(
    carrier: respx.MockRouter, sender: CarrierSender, status: int, code: int, action: Action
) -> None:
    carrier.post(MESSAGES).mock(side_effect=checked(error(status, code, f"The number {TO} is no good")))
    result = send(sender)
    assert result == Refused(code, status)
    assert policy_for(code, status).action is action


def test_a_problem_document_is_a_refusal_too(carrier: respx.MockRouter, sender: CarrierSender) -> None:
    body = {"type": "about:blank", "title": "no", "status": 400, "code": 21211}
    carrier.post(MESSAGES).mock(side_effect=checked(httpx.Response(400, json=body)))
    assert send(sender) == Refused(21211, 400)


@pytest.mark.parametrize("code", ["E77", None, [1]])
def test_a_code_that_is_no_number_is_replaced_by_the_http_status(
    carrier: respx.MockRouter, sender: CarrierSender, code: object
) -> None:
    carrier.post(MESSAGES).mock(side_effect=checked(httpx.Response(400, json={"code": code, "message": "no"})))
    assert send(sender) == Refused(400, 400)


def test_a_refusal_without_a_code_has_its_http_status(carrier: respx.MockRouter, sender: CarrierSender) -> None:
    carrier.post(MESSAGES).mock(side_effect=checked(httpx.Response(403, text="<html>no</html>")))
    assert send(sender) == Refused(403, 403)
    assert policy_for(403, 403).holds_queue


@pytest.mark.parametrize(
    ("answer", "wait"),
    [
        (error(429, 20429, "Too many requests", **{"Retry-After": "7"}), 7.0),
        (error(429, 20429), None),
        (httpx.Response(429, text="slow down", headers={"Retry-After": "Wed, 21 Oct 2026 07:28:00 GMT"}), None),
    ],
)
def test_too_many_requests_is_safe_to_send_again(
    carrier: respx.MockRouter, sender: CarrierSender, answer: httpx.Response, wait: float | None
) -> None:
    carrier.post(MESSAGES).mock(side_effect=checked(answer))
    assert send(sender) == RateLimited(wait)


@pytest.mark.parametrize(
    "answer",
    [
        pytest.param(error(500, 20500), id="server error"),
        pytest.param(httpx.Response(503, text="<html>later</html>"), id="server error without JSON"),
        pytest.param(httpx.Response(408, text="timed out"), id="time-out on their side"),
        pytest.param(httpx.Response(201, text="not json"), id="created, but unreadable"),
        pytest.param(httpx.Response(201, text=""), id="created, but empty"),
        pytest.param(httpx.Response(201, text="[]"), id="created, but of another shape"),
        pytest.param(httpx.Response(201, text='{"sid": "SM1", "num_segments": "many"}'), id="created, odd number"),
        pytest.param(httpx.ReadTimeout("late"), id="no answer in time"),
        pytest.param(httpx.RemoteProtocolError("cut"), id="cut off"),
        pytest.param(httpx.WriteError("cut"), id="cut off while asking"),
    ],
)
def test_a_lost_answer_is_ambiguous(
    carrier: respx.MockRouter, sender: CarrierSender, answer: httpx.Response | Exception
) -> None:
    side_effect = (
        checked(answer) if isinstance(answer, Exception) else lambda request: (check_request(request), answer)[1]
    )
    carrier.post(MESSAGES).mock(side_effect=side_effect)
    result = send(sender)
    assert isinstance(result, Ambiguous)
    assert result.may_be_out


@pytest.mark.parametrize("failure", [httpx.ConnectError("no way"), httpx.ConnectTimeout("late"), httpx.PoolTimeout("")])
def test_without_a_connection_nothing_can_have_been_sent(
    carrier: respx.MockRouter, sender: CarrierSender, failure: Exception
) -> None:
    carrier.post(MESSAGES).mock(side_effect=checked(failure))
    assert send(sender) == Ambiguous(type(failure).__name__, may_be_out=False)


@pytest.mark.parametrize("make", [lambda: CarrierSender(ACCOUNT, TOKEN, NUMBER), RecordingSender], ids=["real", "twin"])
@pytest.mark.parametrize(
    ("to", "body", "code"),
    [
        ("2025550123", BODY, 21211),
        ("whatsapp:+12025550123", BODY, 21211),
        ("anonymous", BODY, 21211),
        (TO, "", 21602),
        (TO, " \n", 21602),
        (TO, "half a pair \ud83d", 21602),
        (TO, "x" * 1601, 21617),
    ],
)
def test_what_the_carrier_would_refuse_is_not_even_asked(
    make: Callable[[], Sender], to: str, body: str, code: int
) -> None:
    with respx.mock(assert_all_called=True) as router:
        assert send(make(), to, body) == Refused(code, 0)
        assert not router.calls


@pytest.mark.parametrize("validity", [0, -1, 36_001])
def test_an_impossible_validity_is_a_mistake_of_the_caller(sender: CarrierSender, validity: int) -> None:
    with pytest.raises(ValueError, match="validity"):
        send(sender, validity=validity)


def test_both_senders_fit_the_port(sender: CarrierSender) -> None:
    assert isinstance(sender, Sender)
    assert isinstance(RecordingSender(), Sender)


@pytest.mark.parametrize(("account", "token"), [("", TOKEN), (ACCOUNT, "")])
def test_no_sender_without_credentials(account: str, token: str) -> None:
    with pytest.raises(ValueError, match="needed"):
        CarrierSender(account, token, NUMBER)


def test_the_environment_of_the_package_changes_nothing(
    carrier: respx.MockRouter, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in (("ACCOUNT_SID", "AC" + "f" * 32), ("AUTH_TOKEN", "x"), ("EDGE", "sydney"), ("REGION", "au1")):
        monkeypatch.setenv(f"TWILIO_{name}", value)
    route = carrier.post(MESSAGES).mock(side_effect=checked(httpx.Response(201, json=message())))
    assert isinstance(send(CarrierSender(ACCOUNT, TOKEN, NUMBER)), Accepted)
    expected = httpx.BasicAuth(ACCOUNT, TOKEN)
    assert route.calls.last.request.headers["Authorization"] == expected._auth_header


# --- nothing about a person leaks


@pytest.mark.parametrize("answer", [error(400, 21211, f"The 'To' number {TO} is no good"), httpx.ReadTimeout(TO)])
def test_no_number_and_no_text_is_logged_or_kept(
    carrier: respx.MockRouter,
    sender: CarrierSender,
    caplog: pytest.LogCaptureFixture,
    answer: httpx.Response | Exception,
) -> None:
    carrier.post(MESSAGES).mock(side_effect=checked(answer))
    carrier.get(MESSAGES).mock(side_effect=checked(answer))
    with caplog.at_level(logging.DEBUG):
        result = send(sender)
        with pytest.raises(LookUpFailed) as failed:
            sender.find_sent(TO, BODY, SENT_AT, "0190-abc")
    said = " ".join([repr(result), repr(failed.value), *(record.getMessage() for record in caplog.records)])
    assert "0190-abc" in said
    assert "2025550" not in said
    assert "14.5" not in said
    assert failed.value.__context__ is None
    assert failed.value.__cause__ is None


def test_a_client_of_ours_keeps_the_talkative_loggers_quiet() -> None:
    for name in ("httpx", "httpcore", "twilio"):
        logging.getLogger(name).setLevel(logging.DEBUG)
    quiet_client().close()
    assert not any(logging.getLogger(name).isEnabledFor(logging.INFO) for name in ("httpx", "httpcore", "twilio"))


# --- looking for a text that may be out


def page(*messages: dict[str, Any]) -> httpx.Response:
    body = {"messages": list(messages), "page": 0, "page_size": 50, "next_page_uri": None, "uri": "/x"}
    return httpx.Response(200, json=body)


def lists(carrier: respx.MockRouter, *messages: dict[str, Any]) -> respx.Route:
    return carrier.get(MESSAGES).mock(side_effect=checked(page(*messages)))


def test_a_text_that_went_out_is_found(carrier: respx.MockRouter, sender: CarrierSender) -> None:
    local = SENT_AT.astimezone(dt.timezone(dt.timedelta(hours=-6)))
    route = lists(carrier, message(body="another", sid="SM" + "2" * 32), message())
    assert sender.find_sent(TO, BODY, local, "0190-abc") == "SM" + "1" * 32
    asked = route.calls.last.request.url.params
    assert (asked["To"], asked["From"]) == (TO, NUMBER)
    assert asked["DateSent>"] == "2026-03-02T15:29:10Z", "the date must be UTC, a minute earlier for the clocks"


@pytest.mark.parametrize(
    "other",
    [
        pytest.param({"body": BODY + "!"}, id="other words"),
        pytest.param({"direction": "inbound"}, id="inbound"),
        pytest.param({"date_created": format_datetime(SENT_AT - dt.timedelta(hours=1))}, id="an hour older"),
    ],
)
def test_a_text_that_is_not_ours_is_not_taken_for_it(
    carrier: respx.MockRouter, sender: CarrierSender, other: dict[str, Any]
) -> None:
    lists(carrier, message(**other))
    assert sender.find_sent(TO, BODY, SENT_AT, "0190-abc") is None


def test_a_text_still_in_the_queue_is_found_without_its_day(carrier: respx.MockRouter, sender: CarrierSender) -> None:
    def answer(request: httpx.Request) -> httpx.Response:
        check_request(request)
        return page() if "DateSent>" in request.url.params else page(message(date_sent=None))

    carrier.get(MESSAGES).mock(side_effect=answer)
    assert sender.find_sent(TO, BODY, SENT_AT, "0190-abc") == "SM" + "1" * 32


def test_the_same_words_of_another_row_are_passed_over(carrier: respx.MockRouter, sender: CarrierSender) -> None:
    lists(carrier, message(), message(sid="SM" + "2" * 32))
    assert sender.find_sent(TO, BODY, SENT_AT, "0190-abc", {"SM" + "1" * 32}) == "SM" + "2" * 32


def test_of_two_the_earlier_is_ours(carrier: respx.MockRouter, sender: CarrierSender) -> None:
    later = format_datetime(SENT_AT + dt.timedelta(minutes=5))
    lists(carrier, message(sid="SM" + "2" * 32, date_created=later), message())
    assert sender.find_sent(TO, BODY, SENT_AT, "0190-abc") == "SM" + "1" * 32


@pytest.mark.parametrize(
    "answer",
    [error(500, 20500), error(401, 20003), error(429, 20429), httpx.ConnectError("no"), httpx.Response(200, text="?")],
)
def test_a_look_up_without_an_answer_is_not_a_no(
    carrier: respx.MockRouter, sender: CarrierSender, answer: httpx.Response | Exception
) -> None:
    carrier.get(MESSAGES).mock(side_effect=checked(answer))
    with pytest.raises(LookUpFailed):
        sender.find_sent(TO, BODY, SENT_AT, "0190-abc")


def test_a_look_up_since_a_time_of_no_zone_is_a_mistake_of_the_caller(sender: CarrierSender) -> None:
    with pytest.raises(ValueError, match="zone"):
        sender.find_sent(TO, BODY, SENT_AT.replace(tzinfo=None), "0190-abc")


# --- time-outs, on a real socket of this machine


class Towards(httpx.BaseTransport):
    """Sends everything to one local port."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._inner = httpx.HTTPTransport()

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        request.url = request.url.copy_with(scheme="http", host="127.0.0.1", port=self._port)
        return self._inner.handle_request(request)

    def close(self) -> None:
        self._inner.close()


def answering_nothing(server: socket.socket, heard: list[bytes], done: threading.Event) -> None:
    connection, _ = server.accept()
    with connection:
        heard.append(connection.recv(65_536))
        done.wait(30)


def test_a_carrier_that_never_answers_ends_as_ambiguous() -> None:
    heard: list[bytes] = []
    done = threading.Event()
    with socket.create_server(("127.0.0.1", 0)) as server:
        thread = threading.Thread(target=answering_nothing, args=(server, heard, done))
        thread.start()
        client = quiet_client(httpx.Timeout(0.2), Towards(server.getsockname()[1]))
        sender = CarrierSender(ACCOUNT, TOKEN, NUMBER, http=client)
        result = send(sender)
        still_silent = thread.is_alive()
        done.set()
        thread.join()
        sender.close()
    assert result == Ambiguous("ReadTimeout")
    assert heard[0].startswith(b"POST /2010-04-01/Accounts/")
    assert still_silent, "the sender gave up by itself, not because the server did"


def test_a_carrier_that_refuses_the_connection_has_sent_nothing() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    sender = CarrierSender(ACCOUNT, TOKEN, NUMBER, http=quiet_client(httpx.Timeout(0.2), Towards(port)))
    assert send(sender) == Ambiguous("ConnectError", may_be_out=False)
    sender.close()


def test_the_time_outs_hold_for_every_phase() -> None:
    assert (TIMEOUT.connect, TIMEOUT.read, TIMEOUT.write, TIMEOUT.pool) == (5.0, 10.0, 10.0, 10.0)
    with quiet_client() as client:
        assert client.timeout == TIMEOUT


def test_the_time_outs_reach_every_request(carrier: respx.MockRouter, sender: CarrierSender) -> None:
    posted = carrier.post(MESSAGES).mock(side_effect=checked(httpx.Response(201, json=message())))
    listed = lists(carrier, message())
    send(sender)
    sender.find_sent(TO, BODY, SENT_AT, "0190-abc")
    for route in (posted, listed):
        assert route.calls.last.request.extensions["timeout"] == TIMEOUT.as_dict()
