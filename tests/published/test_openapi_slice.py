"""The carrier's OpenAPI description refuses what it should, and our own additions refuse the rest.

Without these, "every request was validated" would mean nothing.
"""

from __future__ import annotations

import base64
from urllib.parse import urlencode

import httpx
import pytest
from openapi_core.exceptions import OpenAPIError

from tests.published.openapi_slice import check_answer, check_message_form, check_request, known_fields

ACCOUNT = "AC" + "0" * 32
GOOD = {
    "To": "+12025550123",
    "From": "+12025550100",
    "Body": "K2 reads 14.5.",
    "ValidityPeriod": "600",
    "StatusCallback": "https://guide.example/carrier/status?row=1",
}


def posted(form: dict[str, str], *, path: str | None = None, signed_in: bool = True) -> httpx.Request:
    headers = {"content-type": "application/x-www-form-urlencoded"}
    if signed_in:
        headers["authorization"] = "Basic " + base64.b64encode(b"user:word").decode()
    url = f"https://api.twilio.com{path or f'/2010-04-01/Accounts/{ACCOUNT}/Messages.json'}"
    return httpx.Request("POST", url, headers=headers, content=urlencode(form))


def test_a_complete_message_is_valid() -> None:
    check_request(posted(GOOD))


@pytest.mark.parametrize(
    "form",
    [
        pytest.param({name: value for name, value in GOOD.items() if name != "To"}, id="no recipient"),
        pytest.param(GOOD | {"ValidityPeriod": "soon"}, id="validity in words"),
        pytest.param(GOOD | {"ScheduleType": "perhaps"}, id="unknown kind of schedule"),
        pytest.param(GOOD | {"MessagingServiceSid": "XX1"}, id="malformed service id"),
    ],
)
def test_the_description_refuses(form: dict[str, str]) -> None:
    with pytest.raises(OpenAPIError):
        check_request(posted(form))


def test_the_description_refuses_a_wrong_address() -> None:
    with pytest.raises(OpenAPIError):
        check_request(posted(GOOD, path=f"/2010-04-01/Accounts/{ACCOUNT}/Texts.json"))


def test_the_description_refuses_a_request_without_credentials() -> None:
    with pytest.raises(OpenAPIError):
        check_request(posted(GOOD, signed_in=False))


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"To": "notaphone"}, r"E\.164"),
        ({"To": "2025550123"}, r"E\.164"),
        ({"Body": "x" * 1601}, "1600"),
        ({"Body": ""}, "1600"),
        ({"ValidityPeriod": "0"}, "validity"),
        ({"ValidityPeriod": "36001"}, "validity"),
        ({"Bodytext": "x"}, "unknown fields"),
        ({"StatusCallback": "https://guide_one.example/x?row=1"}, "underscore"),
        ({"StatusCallback": "https://guide.example/x"}, "row"),
    ],
)
def test_our_own_rules_refuse_what_the_description_lets_pass(change: dict[str, str], complaint: str) -> None:
    with pytest.raises(AssertionError, match=complaint):
        check_message_form(GOOD | change)


def test_a_message_without_a_sender_is_refused() -> None:
    with pytest.raises(AssertionError, match="no sender"):
        check_message_form({name: value for name, value in GOOD.items() if name != "From"})


def test_the_description_knows_the_fields_that_we_send() -> None:
    assert GOOD.keys() <= known_fields()


def test_an_invented_answer_of_the_wrong_shape_is_refused() -> None:
    with pytest.raises(OpenAPIError):
        check_answer(posted(GOOD), httpx.Response(201, json={"sid": 7, "status": "on its way"}))
