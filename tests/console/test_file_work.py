"""Notes, ready-made sentences, escalations raised by hand, a second phone, a house begun twice, a call."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from sqlmodel import select

from guide_service.console.translated import translated
from guide_service.database import reading, writing
from guide_service.dialogue.saying import Say
from guide_service.records import (
    Audit,
    Check,
    ConsentEvent,
    Contact,
    Conversation,
    Escalation,
    Household,
    HouseholdNote,
    Job,
    Membership,
    Message,
    PlaceRow,
    ReadingRow,
    WallRow,
)
from guide_service.settings import read_settings
from guide_service.wiring import Service, build_service
from guide_service.wording.sms import compose
from tests.console.conftest import Desk
from tests.console.rows import make_contact, make_message, one_household, text_from

Seat = Callable[..., Desk]


def rows(service: Service, table: Any, *conditions: Any) -> list[Any]:
    with reading(service.engine) as session:
        return list(session.exec(select(table).where(*conditions).order_by(table.id)))


def audits(service: Service, action: str) -> list[Audit]:
    return rows(service, Audit, Audit.action == action)


@pytest.fixture(scope="session")
def spanish() -> Any:
    return build_service(read_settings(demo=True, database_url="sqlite:///:memory:")).catalogues


# --- notes, raising, calling ----------------------------------------------------------------------------------------


def test_a_note_stands_in_the_file_with_its_writer(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    seat.do(f"/console/households/{home}/notes", note="Dog in the yard <b>")
    page = seat.see(f"/console/households/{home}")
    assert "Dog in the yard &lt;b&gt;" in page
    assert rows(service, HouseholdNote)[0].agent_id == seat.agent.id
    assert [a.detail for a in audits(service, "note")] == [{"note": str(rows(service, HouseholdNote)[0].id)}]
    seat.do(f"/console/households/{home}/notes", 422, note="")
    seat.do(f"/console/households/{home}/notes", 422, note="x" * 1001)


def test_an_agent_raises_what_then_stands_on_the_list_and_is_alarmed(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    fields = {"reason": "house_kind", "urgency": "2", "words": "brick walls, look at them"}
    assert seat.do(f"/console/households/{home}/raise", **fields).endswith("?done=raised")
    row = rows(service, Escalation, Escalation.reason == "house_kind")[0]
    assert (row.urgency, row.words, row.state) == (2, "brick walls, look at them", "waiting")
    assert rows(service, Job, Job.key == f"alarm:{row.id}")[0].state == "ready"
    assert "brick walls, look at them" in seat.see("/console")
    for wrong in ({"reason": "whim"}, {"urgency": "0"}):
        seat.do(f"/console/households/{home}/raise", 422, **{**fields, **wrong})


def test_a_call_is_written_down_before_the_number_is_shown(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    assert f'action="/console/households/{home}/call"' in seat.see("/console")
    contact = rows(service, Contact)[0]
    page = seat.do(f"/console/households/{home}/call", 200, contact=str(contact.id))
    assert 'href="tel:+12025550123"' in page
    assert [a.detail for a in audits(service, "call")] == [{"contact": str(contact.id)}]
    seat.do(f"/console/households/{home}/call", 404, contact="1")


# --- ready-made sentences -------------------------------------------------------------------------------------------


def test_a_sentence_goes_out_in_the_persons_language_signed(service: Service, desk: Seat, spanish: Any) -> None:
    both = replace(service, catalogues=spanish)
    home, _ = one_household(both)
    with writing(service.engine) as session:
        session.exec(select(Contact)).one().language = "es"
    desk("rivera")
    seat = Desk(both, "rivera")
    page = seat.see(f"/console/households/{home}")
    assert "I will call you today." in page
    assert 'lang="es" dir="ltr"> Le llamo hoy.' in page
    contact = str(rows(service, Contact)[0].id)
    seat.do(f"/console/households/{home}/phrase", contact=contact, phrase="agent.phrase.call_today")
    (text,) = rows(service, Message, Message.origin == "agent")
    assert (text.body, text.language, text.texts) == ("Le llamo hoy.\n- Rivera", "es", ["agent.phrase.call_today"])
    seat.do(f"/console/households/{home}/phrase", 422, contact=contact, phrase="danger.life")
    assert "told that we will call today" in seat.see("/console?state=claimed")
    assert "I will call you today.\n- Rivera" in seat.see(f"/console/households/{home}")


def test_a_dozen_sentences_exist_in_every_language(spanish: Any) -> None:
    ids = [each for each in spanish.messages if each.startswith("agent.phrase.")]
    assert len(ids) >= 12
    assert {lack.context for lack in spanish.missing} & set(ids) == set()


# --- English of what was sent ---------------------------------------------------------------------------------------


def sent_in_spanish(spanish: Any, *says: Say) -> Message:
    (text,) = compose(says, "es", spanish)
    return Message(contact_id=1, direction="out", origin="reply", body=text.body, language="es",
                   at=dt.datetime.now(dt.UTC), texts=list(text.message_ids))  # fmt: skip


def test_a_spanish_text_is_shown_in_english_with_what_stood_in_its_places(spanish: Any) -> None:
    says = (
        Say("verdict.wet", {"place": "K1", "value": 24.5, "point": Say("point.plate")}),
        Say("next_check", {"date": dt.date(2027, 3, 20)}),
    )
    shown = translated(sent_in_spanish(spanish, *says), "en", spanish)
    english = compose(says, "en", spanish)[0].body
    assert shown is not None
    assert shown.split("\n")[0] == english.split("\n")[0]
    assert "K1" in shown
    assert "24.5" in shown


def test_offered_answers_are_put_into_english_too(spanish: Any) -> None:
    says = (Say("mould.risk"), Say("offer", {"number": 1, "label": Say("label.someone")}))
    shown = translated(sent_in_spanish(spanish, *says), "en", spanish)
    assert shown is not None
    assert shown.split("\n")[-1] == "1 Someone is"


def test_what_no_catalogue_text_fits_stays_as_it_was_sent(spanish: Any) -> None:
    text = sent_in_spanish(spanish, Say("mould.risk"))
    text.body = "Otra cosa."
    assert translated(text, "en", spanish) is None
    text.language = "en"
    assert translated(text, "en", spanish) is None


def test_an_agent_who_reads_spanish_sees_english_texts_in_spanish(spanish: Any) -> None:
    says = Say("verdict.wet", {"place": "K1", "value": 24.5, "point": Say("point.plate")})
    (english,) = compose([says], "en", spanish)
    sent = sent_in_spanish(spanish, says)
    sent.language, sent.body = "en", english.body
    shown = translated(sent, "es", spanish)
    assert shown is not None
    assert shown.replace("24.5", "24,5") == compose([says], "es", spanish)[0].body


def test_every_text_without_places_is_found_again(spanish: Any) -> None:
    lost = []
    for id_, message in spanish.messages.items():
        if "%(" in message.text or message.plural or id_ == "offer":
            continue
        text = sent_in_spanish(spanish, Say(id_))
        shown = translated(text, "en", spanish)
        if shown is not None and shown.replace("\n", " ") != compose([Say(id_)], "en", spanish)[0].body.replace(
            "\n", " "
        ):
            lost.append(id_)
    assert lost == []


# --- a second phone -------------------------------------------------------------------------------------------------

PHONE = {"number": "202 555 0140", "role": "renter", "language": "en", "name": "Ida", "agreed": "1"}


def test_a_second_phone_is_told_and_may_text_at_once(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    assert seat.do(f"/console/households/{home}/phones", **PHONE).endswith("?done=phone_added")
    member = rows(service, Membership, Membership.name == "Ida")[0]
    assert (member.role, member.added_by, member.by_code) == ("renter", seat.agent.id, False)
    (text,) = rows(service, Message, Message.origin == "agent")
    assert text.body.startswith("This is Larkwater County Extension. You asked us to text you")
    event = rows(service, ConsentEvent)[-1]
    assert (event.kind, event.source) == ("given", "agent")
    text_from(service, "+12025550140", "K1 17 15 13")
    assert {r.contact_id for r in rows(service, ReadingRow, ReadingRow.value == 17.0)} >= {member.contact_id}
    assert "added by Rivera" in seat.see(f"/console/households/{home}")
    assert "belongs to this household already" in seat.do(f"/console/households/{home}/phones", 422, **PHONE)
    seat.do(f"/console/households/{home}/end-membership", contact=str(member.contact_id))
    assert rows(service, Membership, Membership.name == "Ida")[0].ended_at is not None


def test_a_phone_that_said_stop_is_not_added(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        make_contact(session, service, "+12025550140", opted_out_at=service.clock.now())
    assert "has said STOP" in desk("rivera").do(f"/console/households/{home}/phones", 422, **PHONE)
    assert rows(service, Message, Message.origin == "agent") == []
    assert len(rows(service, Membership)) == 1


@pytest.mark.parametrize("wrong", [{"number": "12"}, {"agreed": ""}, {"role": "king"}])
def test_without_a_number_or_an_agreement_nothing_is_added(service: Service, desk: Seat, wrong: dict[str, str]) -> None:
    home, _ = one_household(service)
    desk("rivera").do(f"/console/households/{home}/phones", 422, **{**PHONE, **wrong})
    assert len(rows(service, Membership)) == 1


# --- one house begun twice ------------------------------------------------------------------------------------------


def two_files(service: Service, **second: Any) -> tuple[int, int]:
    """The second file: no readings of its own unless a test gives it some."""
    first, _ = one_household(service)
    other, _ = one_household(service, "+12025550124")
    with writing(service.engine) as session:
        for row in session.exec(select(ReadingRow).where(ReadingRow.household_id == other)).all():
            row.superseded_at = service.clock.now()
        house = session.get_one(Household, other)
        house.address, house.code_key, house.facts = "12 Mill Lane", "k", {"power_on": True}
        for name, value in second.items():
            setattr(house, name, value)
    return first, other


def add_reading(service: Service, home: int, place: str, value: float, day: dt.date) -> None:
    with writing(service.engine) as session:
        contact = session.exec(select(Membership.contact_id).where(Membership.household_id == home)).one()
        same_day = (Check.household_id == home, Check.taken_on == day)
        visit = session.exec(select(Check).where(*same_day)).first()
        if visit is None:
            visit = Check(household_id=home, contact_id=contact, taken_on=day, opened_at=service.clock.now())
            session.add(visit)
            session.flush()
        session.add(ReadingRow(household_id=home, check_id=visit.id, place=place, point="plate", value=value,
                               typed=f"{value:g}", taken_on=day, arrived_at=service.clock.now()))  # fmt: skip


def test_everything_of_both_stands_in_the_first(service: Service, desk: Seat) -> None:
    first, second = two_files(service)
    add_reading(service, second, "K2", 23.0, dt.date(2027, 3, 12))
    counted = {table: len(rows(service, table)) for table in (ReadingRow, Membership, WallRow, PlaceRow)}
    said = {row.id for row in rows(service, Message)}
    seat = desk("rivera")
    assert seat.do(f"/console/households/{first}/merge", second=str(second), sure="1").endswith("?done=merged")
    assert {table: len(rows(service, table)) for table in counted} == counted
    assert said <= {row.id for row in rows(service, Message)}
    assert rows(service, Message, Message.household_id == second) == []
    assert rows(service, ReadingRow, ReadingRow.household_id == second) == []
    assert {m.household_id for m in rows(service, Membership)} == {first}
    assert {c.household_id for c in rows(service, Conversation)} == {first}
    house, joined = rows(service, Household)
    assert (house.address, house.facts["power_on"]) == ("12 Mill Lane", True)
    assert (joined.merged_into, joined.code_key) == (first, None)
    assert [len(audits(service, name)) for name in ("merge", "merged_into")] == [1, 1]
    assert "K2" in seat.see(f"/console/households/{first}")
    assert seat.client.get(f"/console/households/{second}").headers["location"] == f"/console/households/{first}"
    seat.do(f"/console/households/{second}/notes", 404, note="too late")


def test_both_phones_hear_whose_file_it_is_now_but_for_stopped_and_silent_ones(service: Service, desk: Seat) -> None:
    first, second = two_files(service)
    with writing(service.engine) as session:
        for number, name in (("+12025550125", "opted_out_at"), ("+12025550126", "last_heard_at")):
            contact = make_contact(session, service, number)
            long_ago = service.clock.now() - dt.timedelta(days=61)
            setattr(contact, name, long_ago)
            row = Membership(contact_id=contact.id, household_id=second, role="owner", joined_at=long_ago)
            session.add(row)
    desk("rivera").do(f"/console/households/{first}/merge", second=str(second), sure="1")
    told = [row for row in rows(service, Message) if row.texts and "merged.told" in row.texts]
    digits = {contact.id: contact.last_digits for contact in rows(service, Contact)}
    assert sorted(digits[row.contact_id] for row in told) == ["0123", "0124"]
    assert {row.body for row in told} == {
        "Larkwater County Extension: your house stood twice with us. It is one file now: 12 Mill Lane. "
        "If that is not your house text 0."
    }


def test_one_reason_of_both_waits_once_and_is_settled_in_the_other(service: Service, desk: Seat) -> None:
    first, second = two_files(service)
    with writing(service.engine) as session:
        theirs = session.exec(select(Escalation).where(Escalation.household_id == second)).one()
        theirs.urgency = 1
    desk("rivera").do(f"/console/households/{first}/merge", second=str(second), sure="1")
    found = rows(service, Escalation)
    assert {row.household_id for row in found} == {first}
    waiting = [row for row in found if row.state == "waiting"]
    assert [(row.urgency, row.times) for row in waiting] == [(1, 2)]
    assert [row.outcome for row in found if row.state == "settled"] == ["merged"]


def test_the_texts_of_a_merged_phone_go_into_the_first(service: Service, desk: Seat) -> None:
    first, second = two_files(service)
    desk("rivera").do(f"/console/households/{first}/merge", second=str(second), sure="1")
    text_from(service, "+12025550124", "K1 18 16 14")
    assert max(rows(service, Message), key=lambda row: row.id).household_id == first
    assert {r.household_id for r in rows(service, ReadingRow)} == {first}


def test_readings_of_one_day_and_place_that_differ_are_not_merged(service: Service, desk: Seat) -> None:
    first, second = two_files(service)
    day = rows(service, ReadingRow, ReadingRow.household_id == first)[-1].taken_on
    add_reading(service, second, "K1", 30.0, day)
    seat = desk("rivera")
    assert seat.do(f"/console/households/{first}/merge", second=str(second), sure="1").endswith("?done=merge_differs")
    assert rows(service, Household)[1].merged_into is None
    assert len(rows(service, ReadingRow, ReadingRow.household_id == second)) == 28


def test_the_same_number_in_both_counts_once(service: Service, desk: Seat) -> None:
    first, second = two_files(service)
    mine = rows(service, ReadingRow, ReadingRow.household_id == first, ReadingRow.place == "K1",
                ReadingRow.point == "plate")[-1]  # fmt: skip
    add_reading(service, second, "K1", mine.value, mine.taken_on)
    desk("rivera").do(f"/console/households/{first}/merge", second=str(second), sure="1")
    same = (ReadingRow.place == "K1", ReadingRow.point == "plate", ReadingRow.taken_on == mine.taken_on)
    assert [r.id for r in rows(service, ReadingRow, *same) if r.superseded_at is None] == [mine.id]


def test_a_house_of_another_office_is_neither_found_nor_merged(service: Service, desk: Seat) -> None:
    first, second = two_files(service, area="upper_larkwater")
    seat = desk("rivera")
    page = seat.do(f"/console/households/{first}/find-double", 200, number="202 555 0124")
    assert "No other file with that number" in page
    seat.do(f"/console/households/{first}/merge", 404, second=str(second), sure="1")
    seat.do(f"/console/households/{first}/merge", 422, second=str(first), sure="1")


def test_a_double_is_found_by_number_and_by_address_and_looking_is_logged(service: Service, desk: Seat) -> None:
    first, second = two_files(service)
    seat = desk("rivera")
    page = seat.do(f"/console/households/{first}/find-double", 200, number="(202) 555-0124")
    assert re.search(rf'name="second" value="{second}"', page)
    with writing(service.engine) as session:
        session.get_one(Household, first).address = "12 mill lane"
    assert f'value="{second}"' in seat.do(f"/console/households/{first}/find-double", 200, number="")
    assert [a.household_id for a in audits(service, "look_for_double")] == [second, second]


# --- the list -------------------------------------------------------------------------------------------------------


def test_a_bare_number_after_an_agents_text_is_shown_as_the_answer_that_it_was(service: Service, desk: Seat) -> None:
    home, escalation = one_household(service)
    with writing(service.engine) as session:
        house, contact = session.exec(select(Household)).one(), session.exec(select(Contact)).one()
        make_message(session, service, house, contact, direction="out", origin="agent", outcome=None,
                     body="When can we call?\n1 Morning\n2 After work")  # fmt: skip
        answer = make_message(session, service, house, contact, body=" 2. ")
        row = session.get_one(Escalation, escalation)
        row.words, row.message_id = " 2. ", answer.id
    seat = desk("rivera")
    for address in ("/console", f"/console/households/{home}"):
        assert "answered: After work" in seat.see(address), address


def test_what_a_number_answered_in_another_language_is_told_in_the_agents(
    service: Service, desk: Seat, spanish: Any
) -> None:
    home, escalation = one_household(service)
    offered = Say("mould.risk"), Say("offer", {"number": 1, "label": Say("label.someone")})
    with writing(service.engine) as session:
        house, contact = session.exec(select(Household)).one(), session.exec(select(Contact)).one()
        sent = sent_in_spanish(spanish, *offered)
        make_message(session, service, house, contact, direction="out", outcome=None, language="es",
                     body=sent.body, texts=sent.texts)  # fmt: skip
        answer = make_message(session, service, house, contact, body="1", language="es")
        row = session.get_one(Escalation, escalation)
        row.words, row.message_id = "1", answer.id
    seat = desk("rivera")
    for address in ("/console", f"/console/households/{home}"):
        assert "answered: Someone is" in seat.see(address), address


def test_words_that_run_the_other_way_stay_together_in_a_translation(service: Service) -> None:
    says = Say("verdict.wet", {"place": "K1", "value": 24.5, "point": Say("point.plate")})
    (text,) = compose([says], "ar", service.catalogues)
    sent = sent_in_spanish(service.catalogues, says)
    sent.language, sent.body = "ar", text.body
    shown = translated(sent, "en", service.catalogues)
    assert shown is not None
    assert "\N{FIRST STRONG ISOLATE}K1\N{POP DIRECTIONAL ISOLATE}" in shown
