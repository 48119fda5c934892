"""A notice to whoever chose calls is told in a call, in the hours of calls; whom it did not reach is listed."""

from __future__ import annotations

import pytest

from guide_service.carrier.form import StatusReport
from guide_service.carrier.recording import RecordingSender
from guide_service.database import reading
from guide_service.followup.delivery_reports import apply_status
from guide_service.notices.preview import people_not_reached, preview
from guide_service.records import Contact, Message, Notice
from guide_service.wiring import Service
from tests.calls.phone import Exchange, Phone
from tests.notices.crowd import counts, draft, go_on, night, start, with_rules
from tests.people import NUMBER, OTHER_NUMBER, add_person, local, row, sms, work
from tests.people import start as start_one

SATURDAY = "The office is open on Saturday."


@pytest.fixture
def county(service: Service) -> Service:
    return with_rules(service)


def home_by_call(service: Service, number: str = NUMBER, language: str = "en") -> int:
    contact_id, _ = add_person(service, number, language=language, channel="call")
    return contact_id


def rung(service: Service, sender: RecordingSender) -> Phone:
    placed = sender.calls[-1]
    phone = Phone(Exchange(service), number=placed.to, sid=placed.sid, direction="outbound-api", verstat="")
    phone.ring(placed.url)
    return phone


def ended(phone: Phone, sender: RecordingSender, how: str = "completed") -> None:
    answer = phone.exchange.post(sender.calls[-1].status_callback, phone.form(CallStatus=how))
    assert answer.status_code == 204


def not_reached(service: Service, notice_id: int) -> list[int]:
    with reading(service.engine) as session:
        found = people_not_reached(session, session.get_one(Notice, notice_id), 0, 10)
    return [contact.id for contact, _home in found]


def test_a_phone_that_chose_calls_is_rung_and_told(county: Service, sender: RecordingSender) -> None:
    home_by_call(county)
    add_person(county, OTHER_NUMBER)
    notice = draft(county)
    start(county, notice)
    go_on(county, 3)
    assert [text.to for text in sender.sent] == [OTHER_NUMBER]
    assert [call.to for call in sender.calls] == [NUMBER]
    phone = rung(county, sender)
    assert SATURDAY not in phone.says, "anybody may have answered"
    said = phone.key("1")
    assert f"Larkwater County Extension says: {SATURDAY}" in said
    assert "Text STOP" not in said
    ended(phone, sender)
    assert counts(county, notice) == {"sent": 1, "delivered": 1}
    assert not_reached(county, notice) == []


def test_a_ready_made_notice_is_told_in_the_language_of_the_phone(county: Service, sender: RecordingSender) -> None:
    home_by_call(county, language="es")
    notice = draft(county, phrase="many.say.read_now", own={})
    start(county, notice)
    go_on(county, 3)
    said = rung(county, sender).key("1")
    assert county.catalogues.text("es", "many.say.read_now", spoken=True) in said


def test_what_is_not_heard_twice_is_listed_for_a_person(county: Service, sender: RecordingSender) -> None:
    contact_id = home_by_call(county)
    notice = draft(county)
    start(county, notice)
    go_on(county, 3)
    phone = rung(county, sender)
    for _ in range(4):
        phone.nothing()
    assert phone.over, "a machine took it"
    ended(phone, sender)
    assert counts(county, notice) == {"queued": 1}, "rung once more"
    county.clock.advance(hours=2, minutes=5)  # type: ignore[attr-defined]
    go_on(county, 3)
    assert len(sender.calls) == 2
    ended(rung(county, sender), sender, "no-answer")
    assert counts(county, notice) == {"failed": 1}
    assert not_reached(county, notice) == [contact_id]


def test_whoever_puts_it_off_is_rung_once_more(county: Service, sender: RecordingSender) -> None:
    home_by_call(county)
    notice = draft(county)
    start(county, notice)
    go_on(county, 3)
    phone = rung(county, sender)
    phone.key("2")
    ended(phone, sender)
    county.clock.advance(hours=2, minutes=5)  # type: ignore[attr-defined]
    go_on(county, 3)
    assert len(sender.calls) == 2
    phone = rung(county, sender)
    assert SATURDAY in phone.key("1")
    ended(phone, sender)
    assert counts(county, notice) == {"delivered": 1}


@pytest.mark.parametrize("key", ["3", "4"])
def test_whoever_ends_calls_is_not_rung_once_more(county: Service, sender: RecordingSender, key: str) -> None:
    home_by_call(county)
    notice = draft(county)
    start(county, notice)
    go_on(county, 3)
    phone = rung(county, sender)
    phone.key(key)
    ended(phone, sender)
    county.clock.advance(hours=3)  # type: ignore[attr-defined]
    go_on(county, 3)
    assert len(sender.calls) == 1


def test_nobody_is_rung_with_a_notice_at_night(county: Service, sender: RecordingSender) -> None:
    home_by_call(county)
    night(county)
    notice = draft(county)
    start(county, notice)
    go_on(county, 3)
    assert sender.calls == []
    assert counts(county, notice) == {"held": 1}
    county.clock.at = local(county, 2027, 3, 16, 8, 0)  # type: ignore[attr-defined]
    go_on(county, 3)
    assert len(sender.calls) == 1


def test_an_agents_own_words_in_a_language_of_recordings_are_listed(service: Service, sender: RecordingSender) -> None:
    county = with_rules(service, languages=("en", "ht"))
    contact_id = home_by_call(county, language="ht")
    notice = draft(county, own={"en": SATURDAY, "ht": "Biwo a ouvè samdi."})
    start(county, notice)
    go_on(county, 3)
    assert (sender.calls, sender.sent) == ([], [])
    assert counts(county, notice) == {"no_voice": 1}
    assert not_reached(county, notice) == [contact_id]


def test_the_preview_counts_no_segments_for_those_who_are_rung(county: Service) -> None:
    home_by_call(county)
    add_person(county, OTHER_NUMBER)
    notice = draft(county)
    with reading(county.engine) as session:
        seen = preview(session, county, session.get_one(Notice, notice))
    assert (seen.count, seen.segments, seen.by_call) == (2, 1, {"en": 1})


def test_a_landline_that_takes_no_texts_is_still_rung(county: Service, sender: RecordingSender) -> None:
    """A text to it (of an agent who chose to text, of an earlier day) did not arrive."""
    contact_id, household_id = add_person(county, channel="call", last_heard_at=county.clock.now())
    (text,) = start_one(county, contact_id, household_id, sms(), origin="agent", by="sms")
    work(county)
    apply_status(county, StatusReport(sid=sender.sent[0].sid, status="undelivered", error_code=30006, row_id=None))
    assert row(county, Message, text.id).status == "undelivered"
    assert row(county, Contact, contact_id).undeliverable is None
    start_one(county, contact_id, household_id, sms())
    work(county)
    assert [call.to for call in sender.calls] == [NUMBER]


def test_a_landline_that_chose_texts_is_given_up_for_them(county: Service, sender: RecordingSender) -> None:
    contact_id, household_id = add_person(county)
    start_one(county, contact_id, household_id, sms())
    work(county)
    apply_status(county, StatusReport(sid=sender.sent[0].sid, status="undelivered", error_code=30006, row_id=None))
    assert row(county, Contact, contact_id).undeliverable == "30006"
