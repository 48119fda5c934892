"""What only a caller does, in English and in Spanish: these calls count among the conversations that walk the flows."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from sqlalchemy import Engine

from guide_service.carrier.recording import RecordingSender
from guide_service.clock import FixedClock
from guide_service.dialogue.saying import Say
from guide_service.records import Contact, Conversation, Escalation
from guide_service.wiring import Service
from guide_service.wording.render import render
from guide_service.wording.template import pieces
from tests.calls.conftest import house_with_places
from tests.calls.phone import Exchange, Phone
from tests.calls.test_choosing_calls import Texter
from tests.calls.test_whose_call import CODE, give_code
from tests.conftest import offering
from tests.conversations.walked import LANGUAGES, settle, walking
from tests.people import rows

CALL_ME = {"en": "call me with reminders", "es": "llámenme con recordatorios"}


@pytest.fixture(params=LANGUAGES)
def language(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def county(
    wired: Service, sqlite_engine: Engine, clock: FixedClock, sender: RecordingSender, language: str
) -> Exchange:
    """Of both languages, this one first."""
    other = next(each for each in LANGUAGES if each != language)
    return Exchange(offering(wired.on(sqlite_engine, clock=clock, sender=sender), language, other))


@pytest.fixture(autouse=True)
def walked(request: pytest.FixtureRequest, county: Exchange) -> Iterator[None]:
    with walking(county.service.flows) as taken:
        yield
    name = request.node.name.removeprefix("test_").replace("[", "_").rstrip("]")
    assert settle(name, taken) == [], "no longer taken: python -m tests.conversations.walked"


def is_said(county: Exchange, language: str, message: str, phone: Phone) -> bool:
    """Whether the longest words of this message were heard last, in this language."""
    template = county.service.catalogues.text(language, message, spoken=True)
    return max((part.strip() for part, _ in pieces(template, False)), key=len) in phone.says


def stopped(county: Exchange, language: str) -> Phone:
    """Somebody of a known house who has asked us to stop calls again."""
    house_with_places(county.service, language=language)
    phone = county.call()
    phone.keys("9", "2")
    phone.hang_up()
    again = county.call()
    assert is_said(county, language, "call.stopped", again)
    return again


def test_a_phone_that_hides_its_number_is_not_asked_whether_we_may_call_it(county: Exchange, language: str) -> None:
    phone = county.call("anonymous", verstat="")
    phone.keys("2", "1")
    assert is_said(county, language, "welcome.role", phone)
    phone.say(CALL_ME[language])
    assert is_said(county, language, "reaching.no_number", phone)
    assert is_said(county, language, "welcome.role", phone)
    assert rows(county.service, Contact)[0].consented_at is None


def test_one_that_joins_by_the_code_is_not_asked_it_either(county: Exchange, language: str) -> None:
    _, household = house_with_places(county.service, places=1, language=language)
    give_code(county.service, household, CODE)
    phone = county.call("anonymous", verstat="")
    phone.keys("1", CODE, "1")
    assert is_said(county, language, "joining.role", phone)
    phone.key("1")
    assert is_said(county, language, "joining.resident", phone)
    assert rows(county.service, Conversation)[-1].household_id == household


def test_who_said_stop_still_gets_a_person_when_the_office_is_shut(county: Exchange, language: str) -> None:
    county.service.clock.advance(hours=12)  # type: ignore[attr-defined]
    phone = stopped(county, language)
    phone.key("0")
    assert is_said(county, language, "person.closed", phone)
    assert [(each.reason, each.urgency) for each in rows(county.service, Escalation)] == [("person", 3)]
    assert rows(county.service, Contact)[0].opted_out_at is not None


def test_who_began_again_by_text_while_the_call_asked_gets_the_menu(county: Exchange, language: str) -> None:
    phone = stopped(county, language)
    welcome = Texter(county.service).says("START")
    assert render(Say("start.again", {"office": county.service.county_facts.office_name}), language,
                  county.service.catalogues) in welcome  # fmt: skip
    phone.key("1")
    assert is_said(county, language, "home.menu", phone)
    assert rows(county.service, Contact)[0].opted_out_at is None
