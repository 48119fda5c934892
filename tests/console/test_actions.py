"""What agents do, and what is true afterwards: in the data, in the audit, in what the person is told."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from typing import Any

import pytest
from sqlmodel import SQLModel, select

from guide_service.clock import FixedClock
from guide_service.database import reading, writing
from guide_service.records import (
    Contact,
    Conversation,
    Escalation,
    Household,
    Job,
    Message,
    MouldReport,
    PlaceRow,
    ReadingRow,
)
from guide_service.wiring import Service
from tests.console.conftest import Desk, audited
from tests.console.rows import make_escalation, one_household

Seat = Callable[..., Desk]


def one(service: Service, table: type[SQLModel], *conditions: Any) -> Any:
    with reading(service.engine) as session:
        return session.exec(select(table).where(*conditions)).one()


def jobs(service: Service, kind: str) -> list[Job]:
    with reading(service.engine) as session:
        return list(session.exec(select(Job).where(Job.kind == kind, Job.state == "ready")))


def changes(service: Service) -> list[str]:
    return [each for each in audited(service) if each not in ("list", "look")]


def started(service: Service) -> list[Message]:
    with reading(service.engine) as session:
        return list(session.exec(select(Message).where(Message.origin == "agent").order_by(Message.id)))


def test_a_claim_tells_the_person_once_that_somebody_has_seen_it(service: Service, desk: Seat) -> None:
    home, escalation = one_household(service)
    seat = desk("rivera")
    assert seat.do(f"/console/escalations/{escalation}/claim") == f"/console/households/{home}?done=claimed"
    seat.do(f"/console/escalations/{escalation}/release")
    seat.do(f"/console/escalations/{escalation}/claim")
    texts = started(service)
    assert [text.body for text in texts] == [
        "A person at Larkwater County Extension has seen your message. You can write more here. "
        "If you are in danger, call 911."
    ]
    assert texts[0].status == "waiting"
    assert len(jobs(service, "send_text")) == 1
    assert changes(service) == ["claim", "release", "claim"]


def test_other_reasons_are_claimed_without_a_text(service: Service, desk: Seat) -> None:
    one_household(service)
    with writing(service.engine) as session:
        home, contact = session.exec(select(Household)).one(), session.exec(select(Contact)).one()
        escalation = make_escalation(session, service, home, contact, reason="stalled").id
    desk("rivera").do(f"/console/escalations/{escalation}/claim")
    assert started(service) == []


def test_whoever_opted_out_is_not_told(service: Service, desk: Seat) -> None:
    _, escalation = one_household(service)
    with writing(service.engine) as session:
        session.exec(select(Contact)).one().opted_out_at = service.clock.now()
    desk("rivera").do(f"/console/escalations/{escalation}/claim")
    assert started(service) == []


def test_nobody_claims_what_a_colleague_has_claimed(service: Service, desk: Seat) -> None:
    _, escalation = one_household(service)
    first, second = desk("rivera"), desk("chief", coordinator=True)
    first.do(f"/console/escalations/{escalation}/claim")
    assert second.do(f"/console/escalations/{escalation}/claim").endswith("?done=taken")
    assert one(service, Escalation).claimed_by == first.agent.id
    assert "claimed by Rivera" in second.see("/console")


def test_a_claim_silences_the_alarm_and_a_release_sets_it_again(service: Service, desk: Seat) -> None:
    _, escalation = one_household(service)
    seat = desk("rivera")
    seat.do(f"/console/escalations/{escalation}/claim")
    assert jobs(service, "alarm") == []
    seat.do(f"/console/escalations/{escalation}/release")
    (alarm,) = jobs(service, "alarm")
    assert (alarm.key, alarm.payload) == (f"alarm:{escalation}", {"escalation": escalation})
    assert alarm.run_at == service.clock.now() + dt.timedelta(minutes=60)


def test_settling_needs_an_outcome_and_happens_once(service: Service, desk: Seat) -> None:
    _, escalation = one_household(service)
    seat = desk("rivera")
    seat.do(f"/console/escalations/{escalation}/settle", 422, outcome="whatever")
    seat.do(f"/console/escalations/{escalation}/settle", outcome="called")
    assert seat.do(f"/console/escalations/{escalation}/settle", outcome="visited").endswith("?done=taken")
    row = one(service, Escalation)
    assert (row.state, row.outcome, row.settled_by) == ("settled", "called", seat.agent.id)


def test_an_answer_goes_out_takes_the_conversation_over_and_claims(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat, contact = desk("rivera"), one(service, Contact)
    where = seat.do(
        f"/console/households/{home}/answer",
        contact=str(contact.id),
        text="We\u2019ll call at 3 \u2013 ok?",
        take_over="1",
    )
    assert where == f"/console/households/{home}?done=sent"
    text, notice = started(service)
    assert (text.body, text.encoding, text.agent_id) == ("We'll call at 3 - ok?\n- Rivera", "GSM-7", seat.agent.id)
    assert notice.texts == ["agent.has_it"], "nobody is left without the guide's answers unknowingly"
    assert one(service, Conversation).taken_over_by == seat.agent.id
    assert one(service, Household).version == 1
    (end,) = jobs(service, "take_over_end")
    assert end.run_at == service.clock.now() + dt.timedelta(hours=service.county.hours.take_over_hours)
    assert one(service, Escalation).claimed_by == seat.agent.id
    assert changes(service) == ["claim", "answer"]


def test_an_answer_can_leave_the_guide_in_charge(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat, contact = desk("rivera"), one(service, Contact)
    assert not re.search(r'name="take_over" value="1" checked', seat.see(f"/console/households/{home}"))
    seat.do(f"/console/households/{home}/answer", contact=str(contact.id), text="Yes.")
    assert one(service, Conversation).taken_over_by is None
    assert len(started(service)) == 1


def test_whoever_is_taken_over_is_told_once(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat, contact, conversation = desk("rivera"), one(service, Contact), one(service, Conversation)
    seat.do(f"/console/households/{home}/take-over", conversation=str(conversation.id))
    seat.do(f"/console/households/{home}/answer", contact=str(contact.id), text="Hello", take_over="1")
    desk("other").do(f"/console/households/{home}/take-over", conversation=str(conversation.id))
    assert [text.texts for text in started(service)] == [["agent.has_it"], []]
    assert "until nobody has written for 4 hours" in seat.see(f"/console/households/{home}")


def test_each_answer_begins_the_time_of_a_take_over_anew(service: Service, desk: Seat, clock: FixedClock) -> None:
    home, _ = one_household(service)
    seat, contact, conversation = desk("rivera"), one(service, Contact), one(service, Conversation)
    seat.do(f"/console/households/{home}/take-over", conversation=str(conversation.id))
    clock.advance(hours=3)
    seat.do(f"/console/households/{home}/answer", contact=str(contact.id), text="Still here.")
    (end,) = jobs(service, "take_over_end")
    assert end.run_at == clock.now() + dt.timedelta(hours=service.county.hours.take_over_hours)
    assert one(service, Conversation).agent_active_at == clock.now()


def test_handing_back_ends_the_take_over_and_its_clock(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat, conversation = desk("rivera"), one(service, Conversation)
    seat.do(f"/console/households/{home}/take-over", conversation=str(conversation.id))
    assert "Hand back to the guide" in seat.see(f"/console/households/{home}")
    seat.do(f"/console/households/{home}/hand-back", conversation=str(conversation.id))
    after = one(service, Conversation)
    assert (after.taken_over_by, after.taken_over_at, after.agent_active_at) == (None, None, None)
    with reading(service.engine) as session:
        said = session.exec(select(Message.texts).where(Message.origin == "started")).one()
    assert said == ["handed_back.hello"]
    assert jobs(service, "take_over_end") == []


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "There is nothing to send yet."),
        ("x" * 500, "This is long: it may arrive in pieces and out of order."),
        ("\U0001f4a7" * 900, "This is too long for one text"),
    ],
)
def test_an_answer_that_will_not_do_is_shown_again_with_what_is_wrong(
    service: Service, desk: Seat, text: str, says: str
) -> None:
    home, _ = one_household(service)
    seat, contact = desk("rivera"), one(service, Contact)
    page = seat.do(f"/console/households/{home}/answer", 422, contact=str(contact.id), text=text)
    assert says in page
    assert text in page
    assert started(service) == []


def test_a_long_answer_shows_its_segments_and_goes_out_when_the_agent_insists(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat, contact = desk("rivera"), one(service, Contact)
    page = seat.do(f"/console/households/{home}/answer", 422, contact=str(contact.id), text="x" * 500)
    assert "4 segments" in page
    seat.do(f"/console/households/{home}/answer", contact=str(contact.id), text="x" * 500, long="1")
    assert one(service, Message, Message.origin == "agent").segments == 4


def test_whoever_opted_out_cannot_be_texted(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        contact = session.exec(select(Contact)).one()
        contact.opted_out_at = service.clock.now()
    seat = desk("rivera")
    assert "Nobody here can be texted" in seat.see(f"/console/households/{home}")
    seat.do(f"/console/households/{home}/answer", 409, contact=str(contact.id), text="Hello?")
    assert started(service) == []


def test_the_number_is_masked_until_a_click_that_is_written_down(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat, contact = desk("rivera"), one(service, Contact)
    assert "2025550123" not in seat.see(f"/console/households/{home}")
    assert "+12025550123" in seat.do(f"/console/households/{home}/number", 200, contact=str(contact.id))
    assert "2025550123" not in seat.see(f"/console/households/{home}")
    assert [each for each in audited(service) if each != "list"] == ["look", "show_number", "look", "look"]


def test_lifting_the_last_mould_report_frees_the_house_and_settles_what_waited(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        house, contact = session.exec(select(Household)).one(), session.exec(select(Contact)).one()
        make_escalation(session, service, house, contact, reason="mould")
        session.add(MouldReport(household_id=home, sense="smelt", reported_at=service.clock.now()))
    seat = desk("rivera")
    with reading(service.engine) as session:
        first, second = session.exec(select(MouldReport.id).order_by(MouldReport.id)).all()
    seat.do(f"/console/mould-reports/{first}/lift")
    assert one(service, Household).mould_open is True
    assert one(service, Escalation, Escalation.reason == "mould").state == "waiting"
    seat.do(f"/console/mould-reports/{second}/lift")
    assert one(service, Household).mould_open is False
    settled = one(service, Escalation, Escalation.reason == "mould")
    assert (settled.state, settled.outcome) == ("settled", "mould_lifted")
    assert one(service, MouldReport, MouldReport.id == first).lifted_by == seat.agent.id


def test_confirming_makes_a_third_partys_readings_count(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    assert "3 readings came from a third party" in seat.see(f"/console/households/{home}")
    seat.do(f"/console/households/{home}/confirm-readings")
    with reading(service.engine) as session:
        assert all(session.exec(select(ReadingRow.confirmed)).all())


def test_a_treated_plate_is_accepted_as_flat(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    place = one(service, PlaceRow, PlaceRow.label == "K3")
    assert f"/console/places/{place.id}/confirm-treated" in seat.see(f"/console/households/{home}")
    seat.do(f"/console/places/{place.id}/confirm-treated")
    assert one(service, PlaceRow, PlaceRow.label == "K3").treated_confirmed is True
    assert f"/console/places/{place.id}/confirm-treated" not in seat.see(f"/console/households/{home}")


def test_flooded_again_is_declared_for_one_area(service: Service, desk: Seat) -> None:
    wet, _ = one_household(service)
    dry, _ = one_household(service, "+12025550124", "fenn_landing")
    seat = desk("rivera")
    seat.do("/console/flooded-again", 422, area="millrace")
    assert seat.do("/console/flooded-again", area="millrace", sure="1") == "/console?done=flooded"
    today = service.clock.now().astimezone(service.county.zone("millrace")).date()
    assert one(service, Household, Household.id == wet).flooded_again_on == today
    assert one(service, Household, Household.id == dry).flooded_again_on is None
    assert "flooded_again" in audited(service)
