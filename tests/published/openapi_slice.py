"""Checks a request that a test sends against the carrier's published OpenAPI description, and what that cannot say."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from urllib.parse import parse_qs, parse_qsl, urlsplit

import httpx
from openapi_core import OpenAPI
from openapi_core.testing import MockRequest, MockResponse

SLICE = Path(__file__).parent / "data" / "twilio_messages_calls.slice.json"
FORM = "application/x-www-form-urlencoded"
MESSAGES = "/2010-04-01/Accounts/{AccountSid}/Messages.json"
CALLS = "/2010-04-01/Accounts/{AccountSid}/Calls.json"


@cache
def description() -> OpenAPI:
    return OpenAPI.from_dict(json.loads(SLICE.read_text(encoding="utf-8")))


@cache
def known_fields(path: str = MESSAGES) -> frozenset[str]:
    post = json.loads(SLICE.read_text(encoding="utf-8"))["paths"][path]["post"]
    return frozenset(post["requestBody"]["content"][FORM]["schema"]["properties"])


def as_openapi_request(request: httpx.Request) -> MockRequest:
    return MockRequest(
        f"{request.url.scheme}://{request.url.host}",
        request.method,
        request.url.path,
        args=dict(request.url.params),
        headers=dict(request.headers),
        data=request.content or None,
        content_type=request.headers.get("content-type", FORM),
    )


def form_of(request: httpx.Request) -> dict[str, str]:
    pairs = parse_qsl(request.content.decode("ascii"), keep_blank_values=True, strict_parsing=True)
    assert len(dict(pairs)) == len(pairs), "a field was sent twice"
    return dict(pairs)


def check_request(request: httpx.Request) -> None:
    """Raises what openapi-core finds wrong, then asserts what the description leaves open."""
    description().validate_request(as_openapi_request(request))
    if request.method == "POST":
        calls = request.url.path.endswith("/Calls.json")
        check_message_form(form_of(request), CALLS if calls else MESSAGES)


def check_message_form(form: dict[str, str], path: str = MESSAGES) -> None:
    assert form.keys() <= known_fields(path), f"unknown fields: {sorted(form.keys() - known_fields(path))}"
    assert "From" in form or "MessagingServiceSid" in form, "no sender"
    assert re.fullmatch(r"\+[1-9]\d{6,14}", form["To"]), "To is not E.164"
    assert re.fullmatch(r"\+[1-9]\d{6,14}|\d{5,6}", form.get("From", "+12025550100")), "From is not a number"
    assert path == CALLS or 1 <= len(form.get("Body", "")) <= 1600, "Body is empty or longer than 1600"
    assert 1 <= int(form.get("ValidityPeriod", "36000")) <= 36000, "validity out of range"
    if "StatusCallback" in form:
        callback = urlsplit(form["StatusCallback"])
        assert callback.scheme == "https"
        assert "_" not in (callback.hostname or "_"), "no underscore in the host name"
        assert parse_qs(callback.query), "our row is not in the query"


def check_answer(request: httpx.Request, answer: httpx.Response) -> None:
    """Keeps the answers that tests invent honest: the shape that the description promises."""
    made = MockResponse(answer.content, answer.status_code, content_type="application/json")
    description().validate_response(as_openapi_request(request), made)
