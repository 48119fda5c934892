"""Calls are chosen by text and by call, after a question whose answer is the consent; ended by text, word and key."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from guide_service.carrier.form import InboundText
from guide_service.dialogue.answers import understand
from guide_service.dialogue.events import Asked, EventName, Listening
from guide_service.records import ConsentEvent, Contact, Conversation, Escalation, Message
from guide_service.turn import take_turn
from guide_service.turning.keeping import Answer
from guide_service.wiring import Service
from tests.calls.conftest import RECORDED, SPOKEN, house_with_places
from tests.calls.phone import Exchange, Phone
from tests.conftest import offering
from tests.people import NUMBER, change, row, rows, sms, start, work

CALL_ME = {
    "en": "please call me instead of texting",
    "es": "Llámeme en vez de mensajes",
    "fr": "appelez-moi plutôt",
    "vi": "gọi điện thay vì nhắn tin",
    "ar": "اتصلوا بي بدل الرسائل",
    "zh": "请打电话提醒我",
    "ht": "rele m olye de mesaj",
    "so": "i soo wac halkii farriin",
}
A_PERSON = {
    "en": "call me",
    "es": "llámeme",
    "fr": "appelez-moi",
    "vi": "gọi cho tôi",
    "ar": "اتصلوا بي",
    "zh": "打电话给我",
    "ht": "rele m",
    "so": "i soo wac",
}
NO_CALLS = {
    "en": "No calls",
    "es": "sin llamadas",
    "fr": "sans appels",
    "vi": "đừng gọi",
    "ar": "لا مكالمات",
    "zh": "不要打电话",
    "ht": "pa rele m",
    "so": "ha i soo wicin",
}


@dataclasses.dataclass
class Texter:
    service: Service
    number: str = NUMBER
    sent: int = 0

    def says(self, body: str) -> str:
        self.sent += 1
        settings = self.service.settings
        sid = f"SM{self.sent:032x}"
        answer: Answer = take_turn(
            self.service, InboundText(sid, settings.account_sid, self.number, settings.number, body)
        )
        return "\n".join(body for _row, body in answer.texts)


def at_home(service: Service, language: str = "en", **contact: object) -> tuple[Texter, int]:
    contact_id, _ = house_with_places(service, language=language, places=2)
    change(service, Contact, contact_id, **contact)
    return Texter(service), contact_id


def listening(language: str) -> Listening:
    return Listening(language, Asked(), (), dt.date(2027, 3, 15))


def ledger(service: Service) -> list[tuple[str, str]]:
    return [(event.kind, event.source) for event in rows(service, ConsentEvent)]


def channel(service: Service, contact_id: int) -> tuple[str, bool]:
    contact = row(service, Contact, contact_id)
    return contact.channel, contact.consented_at is not None


@pytest.mark.parametrize("language", SPOKEN)
def test_calls_are_chosen_by_text_after_a_question(one_exchange: Exchange, language: str) -> None:
    service = one_exchange.service
    texter, contact_id = at_home(service, language)
    asked = texter.says(CALL_ME[language])
    assert channel(service, contact_id) == ("sms", True), "no wish is consent"
    assert rows(service, Conversation)[0].state == "reaching.calls", asked
    assert rows(service, Escalation) == []
    texter.says("1")
    assert channel(service, contact_id) == ("call", True)
    assert ledger(service) == [("shown", "sms"), ("given", "sms")]
    shown = rows(service, ConsentEvent)[0]
    assert shown.words == service.catalogues.text(language, "reaching.calls")
    assert rows(service, Conversation)[0].state == "home.rest"


@pytest.mark.parametrize("language", SPOKEN)
def test_no_calls_ends_them_at_once_and_asks_whether_texts_may_come(one_exchange: Exchange, language: str) -> None:
    service = one_exchange.service
    texter, contact_id = at_home(service, language, channel="call")
    texter.says(NO_CALLS[language])
    assert channel(service, contact_id) == ("sms", False), "who agreed to calls did not agree to texts"
    assert row(service, Contact, contact_id).opted_out_at is None
    texter.says("1")
    assert channel(service, contact_id) == ("sms", True)
    assert ledger(service) == [("refused", "sms"), ("given", "sms")]


@pytest.mark.parametrize("language", [*SPOKEN, *RECORDED])
def test_the_words_that_our_texts_name_are_those_that_end_calls(wired: Service, language: str) -> None:
    catalogues = wired.catalogues
    for message in ("reaching.calls", "reaching.chosen", "reaching.already"):
        assert NO_CALLS[language].upper() in catalogues.text(language, message)
    (event,) = understand(NO_CALLS[language], listening(language), wired.lexicons)
    assert (event.name, event.value) == (EventName.CALLS, "none")


@pytest.mark.parametrize("language", [*SPOKEN, *RECORDED])
def test_a_person_who_shall_ring_is_no_reminder_by_call(one_exchange: Exchange, language: str) -> None:
    service = one_exchange.service
    texter, contact_id = at_home(service, language)
    texter.says(A_PERSON[language])
    assert channel(service, contact_id) == ("sms", True)
    assert [each.reason for each in rows(service, Escalation)] == ["person"]


@pytest.mark.parametrize("language", RECORDED)
def test_nobody_is_rung_in_a_language_without_a_voice(one_exchange: Exchange, language: str) -> None:
    service = one_exchange.service
    texter, contact_id = at_home(service, language)
    assert texter.says(CALL_ME[language]) == service.catalogues.text(language, "reaching.no_voice")
    texter.says("1")
    assert channel(service, contact_id) == ("sms", True)


def test_whoever_meant_a_person_says_so(exchange: Exchange) -> None:
    service = exchange.service
    texter, contact_id = at_home(service)
    texter.says("call instead")
    texter.says("2")
    assert channel(service, contact_id) == ("sms", True)
    assert [each.reason for each in rows(service, Escalation)] == ["person"]


def test_the_open_question_comes_back(exchange: Exchange) -> None:
    service = exchange.service
    texter, contact_id = at_home(service)
    texter.says("hello")
    texter.says("1")
    before = rows(service, Conversation)[0]
    assert before.state == "check.setting"
    texter.says("prefer calls")
    said = texter.says("1")
    assert "wood setting" in said
    assert rows(service, Conversation)[0].state == before.state
    assert channel(service, contact_id) == ("call", True)


def test_a_first_text_may_ask_for_calls(service: Service) -> None:
    texter = Texter(offering(service, "en"))
    first = texter.says("please call me instead of texting")
    assert "not an emergency service" in first
    assert "automatic voice" in first
    assert rows(service, Contact)[0].consented_at is None
    said = texter.says("1")
    contact = rows(service, Contact)[0]
    assert (contact.channel, contact.consented_at is not None) == ("call", True)
    assert "Who are you in this" in said


def test_a_first_text_that_asks_for_calls_and_then_does_not_is_asked_about_texts(service: Service) -> None:
    texter = Texter(offering(service, "en"))
    texter.says("please call me instead of texting")
    assert "May we text you" in texter.says("3")
    assert rows(service, Contact)[0].consented_at is None


def test_words_about_calls_are_no_answer_to_another_question(exchange: Exchange) -> None:
    """ "No calls" is no "no"."""
    service = exchange.service
    texter = Texter(offering(service, "en"))
    assert "May we text you" in texter.says("hello")
    texter.says("no calls")
    assert rows(service, Conversation)[0].state == "welcome.consent"
    assert ledger(service) == [("shown", "sms")]


def test_calls_are_chosen_in_a_call_by_word_and_by_key(exchange: Exchange) -> None:
    service = exchange.service
    _, contact_id = at_home(service)
    by_word = exchange.call()
    assert "automatic voice" in by_word.say("call me with reminders")
    by_word.key("1")
    assert channel(service, contact_id) == ("call", True)
    change(service, Contact, contact_id, channel="sms")
    by_key = exchange.call()
    assert "Call me with reminders: 4" in by_key.key("9")
    assert "automatic voice" in by_key.key("4")
    by_key.key("1")
    assert channel(service, contact_id) == ("call", True)
    assert ledger(service) == [("shown", "call"), ("given", "call")] * 2


@pytest.mark.parametrize("how", ["word", "key"])
def test_calls_are_ended_in_a_call(exchange: Exchange, how: str) -> None:
    service = exchange.service
    _, contact_id = at_home(service, channel="call")
    phone = exchange.call()
    said = phone.say("no more calls") if how == "word" else phone.keys("9", "4")
    assert "May we text you" in said
    assert channel(service, contact_id) == ("sms", False)
    phone.key("1")
    assert channel(service, contact_id) == ("sms", True), "agreed to in a call, and to texts all the same"


def rung(exchange: Exchange, contact_id: int, household_id: int) -> Phone:
    start(exchange.service, contact_id, household_id, sms("Time to measure K1."))
    work(exchange.service)
    (placed,) = exchange.service.sender.calls[-1:]  # type: ignore[attr-defined]
    phone = Phone(exchange, sid=placed.sid, direction="outbound-api", verstat="")
    phone.ring(placed.url)
    return phone


@pytest.mark.parametrize("how", ["word", "key"])
def test_a_call_of_ours_is_the_last_one(exchange: Exchange, how: str) -> None:
    service = exchange.service
    contact_id, household_id = house_with_places(service, places=1)
    change(service, Contact, contact_id, channel="call")
    phone = rung(exchange, contact_id, household_id)
    assert "No more calls: 4" in phone.says
    phone.say("stop the calls") if how == "word" else phone.key("4")
    assert not any(secret in said for said in phone.heard for secret in ("K 1", "kitchen"))
    assert channel(service, contact_id) == ("sms", False)
    phone.hang_up()
    assert len(service.sender.calls) == 1  # type: ignore[attr-defined]


def test_what_still_waits_to_be_told_by_a_call_is_not_told_by_one(exchange: Exchange) -> None:
    """A reminder is taken back, an agent's words go as a text."""
    service = exchange.service
    contact_id, household_id = house_with_places(service, places=1)
    change(service, Contact, contact_id, channel="call")
    start(service, contact_id, household_id, sms("Time to measure."))
    start(service, contact_id, household_id, sms("Please leave the fan on."), origin="agent")
    Texter(service).says("no calls")
    work(service)
    assert service.sender.calls == []  # type: ignore[attr-defined]
    assert [text.body for text in service.sender.sent] == ["Please leave the fan on."]  # type: ignore[attr-defined]
    ours = rows(service, Message, Message.direction == "out", Message.origin != "reply")
    assert [(message.channel, message.status) for message in ours] == [("call", "canceled"), ("sms", "queued")]


def test_a_phone_without_a_number_is_offered_no_calls(exchange: Exchange) -> None:
    phone = exchange.call("anonymous", verstat="")
    phone.keys("2", "1", "1")
    assert "reminders" not in phone.key("9")
    phone.key("3")
    assert "cannot call it" in phone.say("call me with reminders")
    assert rows(exchange.service, Contact)[0].consented_at is None


def test_whoever_wants_no_calls_need_not_prove_the_house(exchange: Exchange) -> None:
    service = exchange.service
    contact_id, _ = house_with_places(service, address="14 Weir Street")
    change(service, Contact, contact_id, channel="call")
    phone = exchange.call(verstat="")
    assert "What is the house number" in phone.says
    said = phone.say("no more calls")
    assert "will not call you any more" in said
    assert "What is the house number" in said
    assert channel(service, contact_id) == ("sms", False)
