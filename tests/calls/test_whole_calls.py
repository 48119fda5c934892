"""Whole calls through the webhooks: keys alone, words alone, both; TwiML is held against the grammar at every step."""

from __future__ import annotations

import pytest

from guide_service.records import Contact, Conversation, Household, ReadingRow
from tests.calls.conftest import SPOKEN, house_with_places
from tests.calls.phone import Exchange, Phone
from tests.people import rows

FIRST_CALL = ("1", "1", "1", "14", "1", "2")
"""Consent, owner, Millrace, house number 14, right, inside and wet."""
BEGIN_CHECK = ("1", "2", "1", "1")
"""Something else -> readings; not washed; pins in wood; block right."""


def readings_of(exchange: Exchange) -> list[tuple[str, float | None]]:
    return [(row.point, row.value) for row in rows(exchange.service, ReadingRow)]


def begin_check(phone: Phone) -> str:
    """From the menu to the first place, whatever it asks on the way."""
    phone.key("1")
    phone.key("1")
    return phone.key("1")


@pytest.mark.parametrize("language", SPOKEN)
def test_a_first_call_with_keys_alone_in_every_language(exchange: Exchange, language: str) -> None:
    phone = exchange.call()
    phone.key("#") if SPOKEN.index(language) > 3 else None
    phone.key(str(SPOKEN.index(language) % 4 + 1))
    phone.keys(*FIRST_CALL)
    contact, home = rows(exchange.service, Contact)[0], rows(exchange.service, Household)[0]
    assert (contact.language, contact.channel, home.area, home.address) == (language, "call", "millrace", "14")
    assert contact.consented_at is not None
    assert rows(exchange.service, Conversation)[0].state == "order.power"
    voices = {say.get("language") for say in (phone.document or []).iter("Say")}  # type: ignore[union-attr]
    assert len(voices) == 1


def test_a_full_check_of_six_places_with_keys_alone(exchange: Exchange) -> None:
    house_with_places(exchange.service)
    phone = exchange.call()
    assert "K 1" in begin_check(phone)
    for _ in range(6):
        phone.keys("221917", "1")
    assert readings_of(exchange) == [("plate", 22.0), ("low_stud", 19.0), ("mid_stud", 17.0)] * 6
    assert "6 wet" in phone.says
    assert rows(exchange.service, Household)[0].next_check_on is not None
