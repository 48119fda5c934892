"""Whole calls in each of the eight languages: keys, words, both, cut off and called again, a shared landline, a phone
that hides its number. TwiML is held against the grammar at every step (``phone.Phone.post``)."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from guide_service.records import Contact, Conversation, Escalation, Household, ReadingRow
from guide_service.settings import LOCALES_DIR
from guide_service.wording.speech import speech_of
from tests.calls.conftest import RECORDED, SPOKEN, house_with_places, joined
from tests.calls.phone import Exchange, Phone
from tests.calls.test_interrupted import CHECK, VALUES
from tests.calls.test_whole_calls import FIRST_CALL, NUMBERS, RIGHT, first_answer
from tests.calls.test_whose_call import CODE, OTHER_CODE, give_code
from tests.people import OTHER_NUMBER, rows, work

EVERY = (*SPOKEN, *RECORDED)


@pytest.fixture
def county(one_exchange: Exchange, recorded_locales: Path) -> Exchange:
    """Every language can be said."""
    return Exchange(replace(one_exchange.service, locales=recorded_locales))


def only_in(phone: Phone, language: str) -> None:
    """All of this answer is in that language's voice, or in its recordings."""
    assert phone.document is not None
    said, played = list(phone.document.iter("Say")), list(phone.document.iter("Play"))
    if language in RECORDED:
        assert said == [], ET.tostring(phone.document, "unicode")
        assert played
        assert all(f"/recordings/{language}/" in (play.text or "") for play in played)
        return
    speech = speech_of(LOCALES_DIR, language)
    assert speech is not None
    assert {say.get("language") for say in said} == {speech.says_in}
    assert played == []


def choose_language(phone: Phone, language: str) -> None:
    at = EVERY.index(language)
    phone.keys(*"#" * (at // 4), str(at % 4 + 1))


def takes_keys_alone(phone: Phone) -> bool:
    return "speech" not in phone.gather.attrib["input"]


def read(county: Exchange, household: int | None = None) -> list[float | None]:
    found = rows(county.service, ReadingRow)
    return [row.value for row in found if household in (None, row.household_id)]


@pytest.mark.parametrize("language", EVERY)
def test_keys_alone(county: Exchange, language: str) -> None:
    phone = county.call()
    choose_language(phone, language)
    only_in(phone, language)
    for key in FIRST_CALL:
        phone.key(key)
        only_in(phone, language)
    assert rows(county.service, Contact)[0].language == language
    assert rows(county.service, Conversation)[0].state == "order.power"


@pytest.mark.parametrize("language", EVERY)
def test_words_alone_where_they_are_understood(county: Exchange, language: str) -> None:
    house_with_places(county.service, language=language, places=2)
    phone = county.call()
    if language in RECORDED:
        assert takes_keys_alone(phone)
        return
    for _ in range(3):
        phone.say(first_answer(phone))
        only_in(phone, language)
    for _ in range(2):
        phone.say(NUMBERS[language])
        phone.say(first_answer(phone))
        only_in(phone, language)
    assert read(county) == [22.0, 19.0, 17.0] * 2


@pytest.mark.parametrize("language", EVERY)
def test_keys_and_words(county: Exchange, language: str) -> None:
    house_with_places(county.service, language=language, places=2)
    phone = county.call()
    phone.key("1")
    phone.key("1") if language in RECORDED else phone.say(first_answer(phone))
    phone.key("1")
    phone.key("221917") if language in RECORDED else phone.say(NUMBERS[language])
    only_in(phone, language)
    phone.key(RIGHT)
    phone.key("**1914*5")
    only_in(phone, language)
    phone.key(RIGHT) if language in RECORDED else phone.say(first_answer(phone))
    only_in(phone, language)
    assert read(county) == [22.0, 19.0, 17.0, None, 19.0, 14.5]


@pytest.mark.parametrize("language", EVERY)
def test_cut_off_at_every_step_and_called_again(county: Exchange, language: str) -> None:
    for cut in range(len(CHECK) + 1):
        number = f"+1202555{130 + cut:04d}"
        _, household = house_with_places(county.service, number=number, language=language, places=2)
        first = county.call(number)
        first.keys(*CHECK[:cut])
        first.hang_up()
        assert read(county, household) == VALUES[: 3 * (cut >= 5) + 3 * (cut >= 7)], cut
        again = county.call(number)
        only_in(again, language)
        if cut < len(CHECK):
            again.keys(*CHECK[cut - 1 if cut in (4, 6) else cut :])
        only_in(again, language)
        again.hang_up()
        assert read(county, household) == VALUES, cut


@pytest.mark.parametrize("language", EVERY)
def test_a_shared_landline(county: Exchange, language: str) -> None:
    service = county.service
    contact_id, first = house_with_places(service, address="14 Weir Street", language=language)
    _, second = house_with_places(service, OTHER_NUMBER, places=2, language=language, address="9 Mill Road")
    joined(service, contact_id, second)
    give_code(service, second, CODE)
    for shown, house in ((CODE, second), ("14", first)):
        phone = county.call()
        only_in(phone, language)
        phone.key(OTHER_CODE)
        only_in(phone, language)
        phone.key(shown)
        only_in(phone, language)
        phone.keys("1", "1", "1", "221917", RIGHT)
        only_in(phone, language)
        phone.hang_up()
        assert read(county, house) == [22.0, 19.0, 17.0]


@pytest.mark.parametrize("language", EVERY)
def test_a_phone_that_hides_its_number(county: Exchange, language: str) -> None:
    service = county.service
    _, household = house_with_places(service, places=1, language=language)
    give_code(service, household, CODE)
    phone = county.call("anonymous", verstat="")
    phone.keys("1", CODE)
    choose_language(phone, language)
    only_in(phone, language)
    phone.keys("1", "1", "1", "1", "221917", RIGHT)  # owner; readings, setting, block
    only_in(phone, language)
    phone.hang_up()
    assert read(county, household) == [22.0, 19.0, 17.0]
    assert rows(service, Household)[0].wet == 1


@pytest.mark.parametrize("language", RECORDED)
def test_without_recordings_a_shared_landline_is_told_so_and_goes_on_in_english(
    one_exchange: Exchange, language: str
) -> None:
    service = one_exchange.service
    contact_id, _first = house_with_places(service, address="14 Weir Street", language=language)
    _, second = house_with_places(service, OTHER_NUMBER, places=2, language=language, address="9 Mill Road")
    joined(service, contact_id, second)
    give_code(service, second, CODE)
    phone = one_exchange.call()
    only_in(phone, "en")
    assert "cannot speak" in phone.says
    phone.key("2")
    only_in(phone, "en")
    assert "more than one house" in phone.says
    phone.key(CODE)
    phone.keys("1", "1", "1", "221917", RIGHT)
    only_in(phone, "en")
    assert read(one_exchange, second) == [22.0, 19.0, 17.0]
    assert rows(service, Contact)[0].language == language, "texts stay in it"


@pytest.mark.parametrize("language", RECORDED)
def test_without_recordings_a_hidden_phone_and_one_that_was_cut_off(one_exchange: Exchange, language: str) -> None:
    phone = one_exchange.call("anonymous", verstat="")
    phone.keys("2")
    choose_language(phone, language)
    only_in(phone, "en")
    assert "cannot speak" in phone.says
    assert "text" not in phone.says, "it cannot be written to"
    phone.key("1")
    only_in(phone, "en")
    phone.hang_up()
    _, household = house_with_places(one_exchange.service, places=2, language=language)
    for keys in (("2", "1", "1", "1", "221917", RIGHT), ("2", "201815", RIGHT)):
        again = one_exchange.call()
        assert "cannot speak" in again.says
        again.keys(*keys)
        only_in(again, "en")
        again.hang_up()
    assert read(one_exchange, household) == VALUES


@pytest.mark.parametrize("language", RECORDED)
def test_without_recordings_whoever_said_stop_can_start_again(one_exchange: Exchange, language: str) -> None:
    house_with_places(one_exchange.service, language=language)
    first = one_exchange.call()
    first.keys("2", "9", "2")
    first.hang_up()
    assert rows(one_exchange.service, Contact)[0].opted_out_at is not None
    phone = one_exchange.call()
    only_in(phone, "en")
    assert "cannot speak" in phone.says
    assert "Get a text" not in phone.says, "who said stop is not texted"
    assert "asked us to stop" in phone.key("1")
    phone.key("1")
    only_in(phone, "en")
    assert rows(one_exchange.service, Contact)[0].opted_out_at is None


@pytest.mark.parametrize("language", RECORDED)
def test_without_recordings_silence_ends_kindly_and_a_person_is_one_key_away(
    one_exchange: Exchange, language: str
) -> None:
    house_with_places(one_exchange.service, language=language)
    phone = one_exchange.call()
    for _ in range(4):
        only_in(phone, "en")
        phone.nothing()
    only_in(phone, "en")
    assert phone.over
    by_day = one_exchange.call()
    assert "we ring a person" in by_day.key("0")
    one_exchange.service.clock.advance(hours=12)  # type: ignore[attr-defined]
    at_night = one_exchange.call()
    assert "The office opens" in at_night.key("0")
    only_in(at_night, "en")
    assert [each.reason for each in rows(one_exchange.service, Escalation)] == ["person"]


def test_a_text_instead_reaches_a_shared_landline_too(one_exchange: Exchange) -> None:
    """It was asked for before the house was."""
    service = one_exchange.service
    contact_id, _first = house_with_places(service, address="14 Weir Street", language="ht")
    _, second = house_with_places(service, OTHER_NUMBER, places=2, language="ht", address="9 Mill Road")
    joined(service, contact_id, second)
    one_exchange.call().key("1")
    work(service)
    (sent,) = service.sender.sent  # type: ignore[attr-defined]
    assert "Ekri nou isit la" in sent.body
