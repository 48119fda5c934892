"""Whose house a call is about: numbers that nobody vouches for, shared phones, phones that hide their number."""

from __future__ import annotations

import datetime as dt

from guide_service.database import writing
from guide_service.dialogue import codes
from guide_service.records import Contact, Conversation, Escalation, Household, Membership, ReadingRow
from guide_service.wiring import Service
from tests.calls.conftest import house_with_places, joined
from tests.calls.phone import Exchange, Phone
from tests.people import OTHER_NUMBER, change, rows

CODE, OTHER_CODE = codes.made_of(48291), codes.made_of(11111)
SECRETS = ("K 1", "kitchen", "Weir", "K1")


def give_code(service: Service, household_id: int, code: str, **more: object) -> None:
    sealed, key_id = service.sealer.seal(code)
    told = {"code_key": service.sealer.code_keys(code)[0], "code_sealed": sealed, "code_key_id": key_id}
    change(service, Household, household_id, **told, code_told_at=service.clock.now(), **more)


def reveals(phone: Phone) -> list[str]:
    return [secret for secret in SECRETS if any(secret in said for said in phone.heard)]


def test_a_number_that_nobody_vouches_for_shows_first_whose_house_it_is(exchange: Exchange) -> None:
    house_with_places(exchange.service, address="14 Weir Street")
    for verstat in ("", "TN-Validation-Passed-B", "TN-Validation-Failed-A"):
        phone = exchange.call(verstat=verstat)
        assert "What is the house number" in phone.says
        assert reveals(phone) == []
    phone.keys("15", "1")
    assert "not what we have" in phone.says
    assert reveals(phone) == []
    phone.keys("14", "1")
    assert "We kept your place" in phone.says
    assert rows(exchange.service, Escalation) == []


def test_three_wrong_answers_bring_a_person(exchange: Exchange) -> None:
    house_with_places(exchange.service, address="14 Weir Street")
    phone = exchange.call(verstat="")
    for wrong in ("15", "16", "17"):
        phone.keys(wrong, "1")
    assert reveals(phone) == []
    assert [each.reason for each in rows(exchange.service, Escalation)] == ["identity"]


def test_a_shared_phone_asks_which_house_and_goes_on_with_that_one(exchange: Exchange) -> None:
    service = exchange.service
    contact_id, first = house_with_places(service, address="14 Weir Street")
    _, second = house_with_places(service, number=OTHER_NUMBER, places=2, address="9 Mill Road")
    joined(service, contact_id, second)
    give_code(service, second, CODE)
    phone = exchange.call()
    assert "more than one house" in phone.says
    assert reveals(phone) == []
    phone.key(CODE)
    phone.keys("1", "1", "1", "221917", "1")
    assert {row.household_id for row in rows(service, ReadingRow)} == {second}
    again = exchange.call()
    again.key("14")
    again.keys("1", "1", "1", "181615", "1")
    assert {row.household_id for row in rows(service, ReadingRow)} == {first, second}


def test_a_shared_phone_tells_nothing_to_who_does_not_know(exchange: Exchange) -> None:
    service = exchange.service
    contact_id, _ = house_with_places(service, address="14 Weir Street")
    _, second = house_with_places(service, number=OTHER_NUMBER, places=2, address="9 Mill Road")
    joined(service, contact_id, second)
    exchange.service.clock.advance(hours=12)  # type: ignore[attr-defined]  # nobody is rung
    phone = exchange.call()
    for wrong in ("15", "16", "17"):
        phone.key(wrong)
    assert reveals(phone) == []
    assert [each.reason for each in rows(service, Escalation)] == ["person"]


def test_words_do_not_lead_around_the_question_whose_house_it_is(exchange: Exchange) -> None:
    service = exchange.service
    contact_id, _ = house_with_places(service, address="14 Weir Street")
    _, second = house_with_places(service, number=OTHER_NUMBER, places=2, address="9 Mill Road")
    joined(service, contact_id, second)
    for words in ("hello", "readings", "status", "gas smell in the kitchen"):
        phone = exchange.call()
        phone.say(words)
        for key in ("1", "*"):
            if not phone.over:  # danger ends the call
                phone.key(key)
        assert [secret for secret in ("K 1", "14 Weir", "9 Mill") if any(secret in said for said in phone.heard)] == []


def test_an_anonymous_caller_joins_by_the_code_for_one_call(exchange: Exchange) -> None:
    service = exchange.service
    _, household_id = house_with_places(service, places=1)
    give_code(service, household_id, CODE)
    phone = exchange.call("anonymous", verstat="")
    assert "house code" in phone.says
    phone.keys("1", CODE)
    phone.key("1")  # language
    phone.key("1")  # owner
    assert "call you here" not in " ".join(phone.heard), phone.heard
    assert rows(service, Conversation)[-1].state == "home.menu", "\n".join(phone.heard)
    phone.say("readings")
    phone.keys("1", "1", "221917", "1")
    assert [row.household_id for row in rows(service, ReadingRow)] == [household_id] * 3
    kind = {contact.kind for contact in rows(service, Contact)}
    assert kind == {"phone", "call"}
    phone.hang_up()
    ended = [member.ended_at is not None for member in rows(service, Membership)]
    assert ended == [False, True]
    assert rows(service, Membership)[0].household_id == household_id


def test_an_anonymous_caller_without_a_code_is_guided_all_the_same(exchange: Exchange) -> None:
    phone = exchange.call("", verstat="")
    phone.keys("2", "1", "1", "1")
    assert rows(exchange.service, Conversation)[0].state == "welcome.address"
    assert rows(exchange.service, Contact)[0].consented_at is None


def test_wrong_codes_of_an_anonymous_caller_open_nothing(exchange: Exchange) -> None:
    service = exchange.service
    _, household_id = house_with_places(service, places=1)
    give_code(service, household_id, CODE)
    change(service, Household, household_id, code_told_at=service.clock.now() - dt.timedelta(days=15))
    phone = exchange.call("anonymous", verstat="")
    phone.keys("1", CODE)
    assert "does not open a house now" in phone.says
    with writing(service.engine) as session:
        assert session.get_one(Household, household_id).version == 0
    assert reveals(phone) == []
