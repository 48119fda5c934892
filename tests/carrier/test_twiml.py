from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from twilio.twiml.messaging_response import MessagingResponse

from guide_service.carrier.twiml import message_reply

STATUS = "https://guide.example/carrier/status?row=1&x=2"


def parsed(xml: str | bytes) -> str:
    return ET.canonicalize(ET.tostring(ET.fromstring(xml), encoding="unicode"))


def allowed(text: str) -> str:
    """Char of XML 1.0, section 2.2, written a second time on purpose."""
    ranges = ((0x20, 0xD7FF), (0xE000, 0xFFFD), (0x10000, 0x10FFFF))
    return "".join(c for c in text if c in "\t\n\r" or any(low <= ord(c) <= high for low, high in ranges))


def theirs(texts: list[str], status_url: str | None) -> str:
    response = MessagingResponse()
    for text in filter(None, map(allowed, texts)):
        response.message(text, action=allowed(status_url) if status_url else None)
    return str(response)


@given(st.lists(st.text(max_size=40), max_size=4), st.none() | st.text(min_size=1, max_size=20) | st.just(STATUS))
@example(["<b>\"K2\" & 'K3'</b> ]]> \x0b\x00 \ufffe \r\n é 😀"], STATUS)
@example(["", "\x00"], None)
@example(["a"], '"\t\n\r<>&\x00')
def test_a_reply_reads_the_same_as_the_carriers_package_writes_it(texts: list[str], status_url: str | None) -> None:
    assert parsed(message_reply([(text, status_url) for text in texts])) == parsed(theirs(texts, status_url))


@pytest.mark.parametrize("texts", [[], [""], ["", "\x0b"]])
def test_nothing_to_say_is_silence_as_the_package_writes_it_and_never_an_empty_message(texts: list[str]) -> None:
    assert message_reply([(text, STATUS) for text in texts]) == str(MessagingResponse()).encode()


def test_the_answer_starts_with_the_declaration() -> None:
    assert message_reply([("K2 reads 14.5.", STATUS)]).startswith(b'<?xml version="1.0" encoding="UTF-8"?><Response>')


def test_several_texts_are_several_messages_that_report_to_the_address() -> None:
    messages = ET.fromstring(message_reply([("one", STATUS), ("two", STATUS)])).findall("Message")
    assert [(message.text, message.get("action")) for message in messages] == [("one", STATUS), ("two", STATUS)]
