"""What the practice phone plays of the carrier: signed forms, answers read, reports sent."""

from __future__ import annotations

from urllib.parse import parse_qsl

import httpx
import pytest

from guide_service.carrier.signature import is_genuine
from guide_service.carrier.twiml import message_reply
from guide_service.handset.carrier_side import PRACTICE_NUMBER, CarrierSide, Reply, WebhookRefused, replies
from guide_service.settings import Settings, read_settings


def carrier(answer: httpx.Response, heard: list[httpx.Request]) -> CarrierSide:
    def handle(request: httpx.Request) -> httpx.Response:
        heard.append(request)
        return answer

    return CarrierSide(demo_settings(), httpx.Client(transport=httpx.MockTransport(handle)))


def demo_settings() -> Settings:
    return read_settings(demo=True)


def test_a_text_is_signed_as_the_carrier_signs() -> None:
    heard: list[httpx.Request] = []
    answer = httpx.Response(200, content=message_reply([("Hello & welcome", "http://x.example/s?row=1")]))
    got = carrier(answer, heard).send_in("+12025550123", "caf\u00e9 \U0001f4a7 +1 & more", "SM1")
    assert got == [Reply("Hello & welcome", "http://x.example/s?row=1")]
    form = parse_qsl(heard[0].content.decode(), keep_blank_values=True)
    assert dict(form)["Body"] == "caf\u00e9 \U0001f4a7 +1 & more"
    assert dict(form)["From"] == "+12025550123"
    signature = heard[0].headers["x-twilio-signature"]
    assert is_genuine(str(heard[0].url), form, signature, demo_settings().auth_token)
    assert not is_genuine(str(heard[0].url), [*form, ("More", "1")], signature, demo_settings().auth_token)


def test_silence_is_no_reply() -> None:
    assert replies(message_reply([])) == []
    assert replies(b"") == []


def test_a_refused_webhook_is_told() -> None:
    with pytest.raises(WebhookRefused, match="403"):
        carrier(httpx.Response(403), []).send_in("+12025550123", "hi", "SM1")


def test_reports_come_in_the_carriers_order_and_stop_when_they_are_not_taken() -> None:
    heard: list[httpx.Request] = []
    carrier(httpx.Response(204), heard).report("http://127.0.0.1/carrier/status?row=7", "SM1", "+12025550123")
    assert [dict(parse_qsl(each.content.decode()))["MessageStatus"] for each in heard] == [
        "queued",
        "sent",
        "delivered",
    ]
    heard.clear()
    carrier(httpx.Response(500), heard).report("http://127.0.0.1/carrier/status?row=7", "SM1", "+12025550123")
    assert len(heard) == 1


@pytest.mark.parametrize(
    ("number", "free"),
    [("+12025550100", True), ("+19105550199", True), ("+12025550200", False), ("+12025551234", False), ("911", False)],
)
def test_only_numbers_kept_free_for_fiction_are_practice_numbers(number: str, free: bool) -> None:
    assert bool(PRACTICE_NUMBER.fullmatch(number)) is free
