"""Whole calls through the webhooks: keys alone, words alone, both; TwiML is held against the grammar at every step."""

from __future__ import annotations

import pytest

from guide_service.carrier.kept import API
from guide_service.records import ConsentEvent, Contact, Conversation, Escalation, Household, Message, ReadingRow
from tests.calls.conftest import SPOKEN, house_with_places
from tests.calls.phone import Exchange, Phone
from tests.people import change, rows, work

FIRST_CALL = ("1", "1", "1", "14", "1", "2")
"""Call me, owner, Millrace, house number 14, right, inside and wet."""
SIX_PLACES = [("plate", 22.0), ("low_stud", 19.0), ("mid_stud", 17.0)] * 6
RIGHT = "1"


def readings_of(exchange: Exchange) -> list[tuple[str, float | None]]:
    return [(row.point, row.value) for row in rows(exchange.service, ReadingRow)]


def begin_check(phone: Phone) -> str:
    """From where the house rests to the first place: readings, pins in bare wood, the block reads right."""
    return phone.keys("1", "1", "1")


def languages_said(phone: Phone) -> set[str | None]:
    assert phone.document is not None
    return {say.get("language") for say in phone.document.iter("Say")}


def test_a_first_call_with_keys_alone(exchange: Exchange) -> None:
    phone = exchange.call()
    phone.keys("1", *FIRST_CALL)
    contact, home = rows(exchange.service, Contact)[0], rows(exchange.service, Household)[0]
    assert (contact.language, contact.channel, home.area, home.address) == ("en", "call", "millrace", "14")
    assert contact.consented_at is not None
    assert rows(exchange.service, Conversation)[0].state == "order.power"
    assert len(languages_said(phone)) == 1


@pytest.mark.parametrize("language", SPOKEN)
def test_a_full_check_of_six_places_with_keys_alone(one_exchange: Exchange, language: str) -> None:
    house_with_places(one_exchange.service, language=language)
    phone = one_exchange.call()
    assert "K 1" in begin_check(phone)
    for _ in range(6):
        phone.keys("221917", RIGHT)
    assert readings_of(one_exchange) == SIX_PLACES
    assert rows(one_exchange.service, Household)[0].wet == 6
    assert rows(one_exchange.service, Household)[0].next_check_on is not None
    assert len(languages_said(phone)) == 1


NUMBERS = {
    "en": "twenty two nineteen seventeen",
    "es": "veintidós diecinueve diecisiete",
    "fr": "vingt-deux, dix-neuf, dix-sept",
    "vi": "22 19 17",
    "ar": "22 19 17",
    "zh": "22 19 17",
}
"""As recognisers write them down: mostly digits, sometimes words."""


def test_a_full_check_with_words_alone(exchange: Exchange) -> None:
    house_with_places(exchange.service)
    phone = exchange.call()
    for _ in range(3):
        phone.say(first_answer(phone))
    for _ in range(6):
        phone.say(NUMBERS["en"])
        phone.say(first_answer(phone))
    assert readings_of(exchange) == SIX_PLACES


def first_answer(phone: Phone) -> str:
    """The first offered answer, as the person heard it."""
    return phone.gather.attrib["hints"].split(",")[0]


def test_keys_and_words_may_be_mixed(exchange: Exchange) -> None:
    house_with_places(exchange.service, places=2)
    phone = exchange.call()
    phone.key("1")
    phone.say("wood setting pins")
    phone.key("1")
    phone.say("14.5 13 12")
    phone.key(RIGHT)
    phone.key("**1917")
    assert "over the range" in phone.says
    phone.say("right")
    assert [value for _point, value in readings_of(exchange)] == [14.5, 13.0, 12.0, None, 19.0, 17.0]


def test_a_number_counts_only_after_it_was_read_back(exchange: Exchange) -> None:
    house_with_places(exchange.service, places=1)
    phone = exchange.call()
    begin_check(phone)
    assert "22, 19, and 17" in phone.key("221917")
    assert readings_of(exchange) == []
    phone.key("2")
    assert readings_of(exchange) == []
    assert "K 1" in phone.says
    phone.keys("211917", RIGHT)
    assert readings_of(exchange)[0] == ("plate", 21.0)


def test_what_is_no_row_of_readings_is_asked_and_never_guessed(exchange: Exchange) -> None:
    house_with_places(exchange.service, places=1)
    phone = exchange.call()
    begin_check(phone)
    assert "Is that 14.5" in phone.key("145")
    assert readings_of(exchange) == []
    phone.key("1")
    assert readings_of(exchange) == [("plate", 14.5)]


def test_danger_by_voice_is_answered_at_once_and_reaches_agents(exchange: Exchange) -> None:
    house_with_places(exchange.service)
    phone = exchange.call()
    begin_check(phone)
    phone.key("221917")
    said = phone.say("he got a shock and is not breathing")
    assert "9 1 1" in said
    found = rows(exchange.service, Escalation)
    assert [(each.reason, each.urgency) for each in found] == [("danger", 1)]
    assert readings_of(exchange) == []


def test_after_danger_nothing_is_asked_and_the_call_ends(exchange: Exchange) -> None:
    """Whoever smells gas has to leave: no address, no key, no question keeps them in the house."""
    phone = exchange.call()
    said = phone.say("it smells of gas in here")
    assert "Get out now" in said
    assert "Hang up now" in said
    assert "?" not in said
    assert "press" not in said
    assert phone.over
    assert exchange.call().over is False


def test_who_wants_to_die_is_not_hung_up_on(exchange: Exchange) -> None:
    phone = exchange.call()
    said = phone.say("i want to kill myself")
    assert "You matter" in said
    assert not phone.over
    assert "person" in said


def test_who_wants_to_die_beside_another_danger_hears_no_hang_up(exchange: Exchange) -> None:
    phone = exchange.call()
    said = phone.say("i want to kill myself and it smells of gas here")
    assert "You matter" in said
    assert "Get out now" in said
    assert "Hang up" not in said
    assert not phone.over


def test_safety_words_are_not_cut_short_by_a_key(exchange: Exchange) -> None:
    house_with_places(exchange.service)
    phone = exchange.call()
    phone.say("gas smell in the kitchen")
    assert phone.document is not None
    assert "Get out now" in "".join(phone.document[0].itertext())
    assert phone.document[0].tag == "Say"


@pytest.mark.parametrize("how", ["words", "keys"])
def test_stop_stops_every_channel_at_once(exchange: Exchange, how: str) -> None:
    contact_id, _ = house_with_places(exchange.service)
    phone = exchange.call()
    if how == "words":
        phone.say("stop")
    else:
        phone.keys("9", "2")
    assert phone.over
    assert rows(exchange.service, Contact, Contact.id == contact_id)[0].opted_out_at is not None
    again = exchange.call()
    assert "asked us to stop" in again.says
    assert "K" not in again.says
    again.key("1")
    assert rows(exchange.service, Contact, Contact.id == contact_id)[0].opted_out_at is None


def test_silence_is_borne_three_times_and_then_ends_kindly(exchange: Exchange) -> None:
    house_with_places(exchange.service)
    phone = exchange.call()
    waits = [int(phone.gather.attrib["timeout"])]
    assert "Take your time" in phone.nothing()
    assert phone.gather.find("Say/prosody") is not None
    waits.append(int(phone.gather.attrib["timeout"]))
    phone.nothing()
    waits.append(int(phone.gather.attrib["timeout"]))
    assert "For a person press 0" in phone.nothing()
    assert waits == sorted(set(waits))
    assert "Call again at any time" in phone.nothing()
    assert phone.over


def test_the_phone_may_lie_beside_the_wall(exchange: Exchange) -> None:
    house_with_places(exchange.service)
    phone = exchange.call()
    begin_check(phone)
    assert "We wait" in phone.key("8")
    assert int(phone.gather.attrib["timeout"]) >= 60
    assert "K 1" in phone.key("*")


def test_a_person_is_one_key_away_and_rung_in_office_hours(exchange: Exchange) -> None:
    house_with_places(exchange.service)
    phone = exchange.call()
    phone.key("0")
    assert phone.document is not None
    dial = phone.document.find("Dial")
    assert dial is not None
    accept = phone.post(str(dial[0].get("url")), phone.form())
    assert "Press 1 to take the call" in accept
    phone.post(phone.gather.attrib["action"], phone.form(Digits="1"))
    said = phone.post(dial.attrib["action"], phone.form(DialCallStatus="completed"))
    assert "Goodbye" in said
    assert rows(exchange.service, Escalation) == []


def test_nobody_takes_the_call_so_an_escalation_waits_and_word_can_be_left(exchange: Exchange) -> None:
    house_with_places(exchange.service)
    phone = exchange.call()
    phone.key("0")
    assert phone.document is not None
    dial = phone.document.find("Dial")
    assert dial is not None
    assert "somebody will call you back" in phone.post(dial.attrib["action"], phone.form(DialCallStatus="no-answer"))
    assert [each.reason for each in rows(exchange.service, Escalation)] == ["person"]
    phone.key("1")
    record = phone.document.find("Record")
    assert record is not None
    address = f"{API}/{exchange.service.settings.account_sid}/Recordings/RE{'1' * 32}"
    word = phone.form(RecordingUrl=address, RecordingDuration="7")
    assert "will listen" in phone.post(record.attrib["action"], word)
    kept = [message.media for message in rows(exchange.service, Message) if message.media]
    assert kept == [[{"url": address, "type": "audio/mpeg"}]]


def test_outside_office_hours_nobody_is_rung(exchange: Exchange) -> None:
    house_with_places(exchange.service)
    exchange.service.clock.advance(hours=12)  # type: ignore[attr-defined]
    phone = exchange.call()
    said = phone.key("0")
    assert phone.document is not None
    assert phone.document.find("Dial") is None
    assert "The office opens" in said
    assert [each.reason for each in rows(exchange.service, Escalation)] == ["person"]


def test_an_agent_who_took_over_is_named_and_nothing_else(exchange: Exchange) -> None:
    house_with_places(exchange.service)
    talk = rows(exchange.service, Conversation)[0]
    change(exchange.service, Conversation, talk.id, taken_over_by=1, taken_over_at=exchange.service.clock.now())
    phone = exchange.call()
    assert "is taking care of this" in phone.says


def test_a_caller_in_another_language_than_the_last_text(exchange: Exchange) -> None:
    house_with_places(exchange.service, language="es")
    phone = exchange.call()
    assert languages_said(phone) == {"es-US"}
    assert phone.gather.attrib["language"] == "es-US"
    change(exchange.service, Contact, rows(exchange.service, Contact)[0].id, language="vi")
    other = exchange.call()
    assert languages_said(other) == {"vi-VN"}


def test_danger_of_a_caller_who_asked_us_to_stop_is_answered(exchange: Exchange) -> None:
    house_with_places(exchange.service)
    exchange.call().say("stop")
    phone = exchange.call()
    assert "Get out now" in phone.say("gas smell in the kitchen")
    assert "danger" in [each.reason for each in rows(exchange.service, Escalation)]
    assert rows(exchange.service, Contact)[0].opted_out_at is not None


def test_a_language_without_a_voice_is_said_so_and_nothing_pretends(exchange: Exchange) -> None:
    house_with_places(exchange.service, language="ht")
    phone = exchange.call()
    assert "cannot speak" in phone.says
    assert languages_said(phone) == {"en-US"}
    assert phone.document is not None
    assert phone.document.find(".//Play") is None
    assert "press" in phone.key("2")
    assert languages_said(phone) == {"en-US"}
    assert "K 1" in begin_check(phone)
    assert rows(exchange.service, Contact)[0].language == "ht"


def test_a_caller_whose_language_has_no_voice_gets_a_text_in_it(exchange: Exchange) -> None:
    house_with_places(exchange.service, language="ht")
    phone = exchange.call()
    phone.key("1")
    assert phone.over
    work(exchange.service)
    (sent,) = exchange.service.sender.sent  # type: ignore[attr-defined]
    assert "Ekri nou isit la" in sent.body


def test_consent_by_call_is_in_the_ledger_with_what_was_said(exchange: Exchange) -> None:
    phone = exchange.call()
    phone.keys("1", "1")
    shown, given = rows(exchange.service, ConsentEvent)
    assert (shown.kind, given.kind, given.source) == ("shown", "given", "call")
    assert "hang up and call" in shown.words
    by_text = exchange.call("+12025550177")
    by_text.keys("1", "2")
    assert [contact.channel for contact in rows(exchange.service, Contact)] == ["call", "sms"]
