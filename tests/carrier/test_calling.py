"""Calls through the carrier's package. Every request is held against the published description."""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest
import respx

from guide_service.carrier.sender import Accepted, Ambiguous, RateLimited, Refused
from guide_service.carrier.sending import CarrierSender
from tests.carrier.test_sending import ACCOUNT, NUMBER, TO, TOKEN, error
from tests.published.openapi_slice import check_request, form_of

CALLS = f"https://api.twilio.com/2010-04-01/Accounts/{ACCOUNT}/Calls.json"
URL, STATUS = "https://guide.example/carrier/voice?call=7", "https://guide.example/carrier/voice/status?call=7"


@pytest.fixture
def sender() -> Iterator[CarrierSender]:
    made = CarrierSender(ACCOUNT, TOKEN, NUMBER)
    yield made
    made.close()


def answered(answer: httpx.Response | Exception) -> object:
    def side_effect(request: httpx.Request) -> httpx.Response:
        check_request(request)
        if isinstance(answer, Exception):
            raise answer
        return answer

    return side_effect


def test_a_call_names_where_it_is_answered_and_reported_and_looks_for_no_machine(sender: CarrierSender) -> None:
    with respx.mock as carrier:
        taken = httpx.Response(201, json={"sid": "CA" + "1" * 32, "status": "queued"})
        route = carrier.post(CALLS).mock(side_effect=answered(taken))
        assert sender.place_call(TO, URL, STATUS, 40) == Accepted("CA" + "1" * 32, "queued", 0)
    form = form_of(route.calls.last.request)
    assert (form["To"], form["From"], form["Url"], form["StatusCallback"]) == (TO, NUMBER, URL, STATUS)
    assert form["Timeout"] == "40"
    assert "MachineDetection" not in form
    assert "Record" not in form


@pytest.mark.parametrize(
    ("answer", "end"),
    [
        (error(400, 21217), Refused(21217, 400)),
        (error(429, 20429, **{"Retry-After": "7"}), RateLimited(7.0)),
        (httpx.ReadTimeout("late"), Ambiguous("ReadTimeout")),
        (httpx.ConnectError("away"), Ambiguous("ConnectError", may_be_out=False)),
    ],
)
def test_every_end_of_a_call_is_a_value(sender: CarrierSender, answer: httpx.Response | Exception, end: object) -> None:
    with respx.mock as carrier:
        carrier.post(CALLS).mock(side_effect=answered(answer))
        assert sender.place_call(TO, URL, STATUS, 40) == end


def test_what_is_no_number_is_not_asked_for(sender: CarrierSender) -> None:
    assert sender.place_call("anonymous", URL, STATUS, 40) == Refused(21217, 0)
