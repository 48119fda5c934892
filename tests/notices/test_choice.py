"""Who gets a notice, in which words, and what the preview says of it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from guide_service.database import reading, writing
from guide_service.notices.choice import Choice
from guide_service.notices.preview import Preview, people_without_text, preview
from guide_service.notices.words import ready_made, versions
from guide_service.records import Contact, Conversation, Household, Membership, Notice
from guide_service.wiring import Service
from tests.console.rows import make_escalation
from tests.notices.crowd import EVERYWHERE, add_homes, draft, with_rules
from tests.people import change, rows


def seen(service: Service, notice_id: int) -> Preview:
    with reading(service.engine) as session:
        return preview(session, service, session.get_one(Notice, notice_id))


def count(service: Service, **choice: object) -> int:
    return seen(service, draft(service, replace(EVERYWHERE, **choice))).count  # type: ignore[arg-type]


def test_area_stage_band_and_language_choose(service: Service) -> None:
    service = with_rules(service)
    add_homes(service, 3, area="millrace", home={"stage": "dry", "band": "wet"})
    add_homes(service, 2, area="upper_larkwater", home={"stage": "measuring", "band": "dry"})
    add_homes(service, 1, area=None, language="es")
    assert count(service, areas=("millrace",), area_unknown=False) == 3
    assert count(service, areas=("millrace", "upper_larkwater"), area_unknown=False) == 5
    assert count(service, areas=(), area_unknown=False) == 0
    assert count(service, stages=("dry",)) == 3
    assert count(service, stages=("measure",)) == 2, "an older word for the same stage"
    assert count(service, bands=("dry", "wet")) == 5
    assert seen(service, draft(service, own={"en": "a", "es": "b"})).people == {"en": 5, "es": 1}
    assert count(service, languages=("es",)) == 0, "there are no words in that language"


def test_who_opted_out_never_agreed_or_cannot_be_reached_is_counted_and_left_out(service: Service) -> None:
    now = service.clock.now()
    add_homes(service, 4)
    add_homes(service, 3, first=10, opted_out_at=now)
    add_homes(service, 2, first=20, consented_at=None)
    add_homes(service, 1, first=30, undeliverable="30006")
    found = seen(service, draft(service))
    assert found.people == {"en": 4}
    assert found.left_out == {"opted_out": 3, "no_consent": 2, "undeliverable": 1}


def test_people_without_a_version_are_listed_by_language_and_by_name(service: Service) -> None:
    service = with_rules(service)
    add_homes(service, 2)
    lacking = add_homes(service, 3, first=10, language="es") + add_homes(service, 1, first=20, language="vi")
    notice_id = draft(service, own={"en": "The office is open on Saturday."})
    found = seen(service, notice_id)
    assert (found.count, found.left_out, found.without_text) == (2, {"no_text": 4}, {"es": 3, "vi": 1})
    with reading(service.engine) as session:
        notice = session.get_one(Notice, notice_id)
        first = people_without_text(session, service, notice, 0, 3)
        rest = people_without_text(session, service, notice, first[-1][0].id, 3)
    assert [contact.id for contact, _home in [*first, *rest]] == sorted(lacking)


def test_ready_made_texts_exist_in_every_language_and_own_words_go_before_them(service: Service) -> None:
    service = with_rules(service)
    assert {"many.say.call_us", "many.say.meters"} <= set(ready_made(service))
    said = versions(service, "many.say.meters", {"en": "Meters are here \u2013 come."})
    assert said["en"].text.body == "Larkwater County Extension: Meters are here - come.\nText STOP to end."
    assert said["en"].own
    assert not said["es"].own
    assert "MEDIDOR" in said["es"].text.body


def test_every_version_says_who_writes_and_how_to_end_the_texts(service: Service) -> None:
    service = with_rules(service)
    for phrase in ready_made(service):
        for version in versions(service, phrase, {}).values():
            assert version.text.body.startswith("Larkwater County Extension: ")
            assert "STOP" in version.text.body.splitlines()[-1]
            assert not version.too_long


def test_the_preview_counts_segments_and_estimates_the_cost(service: Service) -> None:
    priced = with_rules(service, cost_per_segment=Decimal("0.02"), rate=2.0)
    add_homes(priced, 5)
    add_homes(priced, 2, first=10, language="es")
    notice = draft(priced, own={"en": "x" * 200, "es": "\u043f" * 100})
    found = seen(priced, notice)
    assert found.segments == 5 * 2 + 2 * 3
    assert found.cost == Decimal("0.32")
    assert found.takes.total_seconds() == 8.0
    unpriced = with_rules(service, cost_per_segment=None)
    assert seen(unpriced, notice).cost is None


def test_conversations_with_an_agent_are_no_reason_to_skip_and_are_counted(service: Service) -> None:
    add_homes(service, 3)
    talk = rows(service, Conversation)[0]
    change(service, Conversation, talk.id, taken_over_by=5, taken_over_at=service.clock.now())
    found = seen(service, draft(service))
    assert (found.count, found.taken_over) == (3, 1)


def test_a_phone_of_several_houses_gets_one_text_and_helpers_only_when_meant(service: Service) -> None:
    (both,) = add_homes(service, 1)
    add_homes(service, 1, first=10, role="contractor")
    with writing(service.engine) as session:
        now = service.clock.now()
        second = Household(area="millrace", created_at=now, updated_at=now)
        session.add(second)
        session.flush()
        session.add(Membership(contact_id=both, household_id=second.id, role="owner", joined_at=now))
    assert count(service) == 1
    assert count(service, helpers=True) == 2


def test_who_left_the_household_gets_nothing(service: Service) -> None:
    add_homes(service, 1)
    change(service, Membership, rows(service, Membership)[0].id, ended_at=service.clock.now())
    assert count(service) == 0


def test_an_open_request_to_delete_stops_notices_only_if_the_county_says_so(service: Service) -> None:
    (contact,) = add_homes(service, 1)
    (home,) = rows(service, Household)
    with writing(service.engine) as session:
        make_escalation(session, service, home, session.get_one(Contact, contact), reason="deletion")
    assert count(service) == 1
    rule = service.county.records.model_copy(update={"texts_while_deletion_is_open": False})
    silent = service.with_county(service.county.model_copy(update={"records": rule}))
    assert count(silent) == 0


def test_a_choice_is_stored_and_read_back() -> None:
    choice = Choice(("millrace",), True, ("dry",), ("en",), ("wet",), True)
    assert Choice.of(choice.as_json()) == choice
