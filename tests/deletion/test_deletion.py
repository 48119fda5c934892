"""A request to delete: granted or refused with a reason, told, taken back within a day, carried out and no more."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable

import pytest
from sqlalchemy import text
from sqlmodel import SQLModel

from guide_service import jobs
from guide_service.carrier.form import InboundText
from guide_service.carrier.phone_numbers import origin_of
from guide_service.database import reading, writing
from guide_service.records import (
    Audit,
    Check,
    ConsentEvent,
    Contact,
    DeletionDecision,
    Escalation,
    Household,
    HouseholdNote,
    Membership,
    Message,
    ReadingRow,
    RetentionStep,
    Verdict,
    WallRow,
)
from guide_service.records.loading import load_by_phone
from guide_service.turn import take_turn
from guide_service.turning.deciding import plan_text
from guide_service.turning.houses import house_meant
from guide_service.turning.keeping import Moved, keep_text
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import make_contact
from tests.deletion.conftest import home_id
from tests.people import live_jobs, rows, work
from tests.recalls.conftest import House

PERSONAL = ("Weir", "5550123", "Joe", "hello", "delete my data", "kitchen", "leave the key")
"""What a resident told us, in words that only stand in his or her file."""


def tells_of_the_resident(stored: str) -> list[str]:
    """Personal words, and the number however it is written; ids and keys hold any letters by chance."""
    return [words for words in PERSONAL if re.search(rf"(?<![A-Za-z]){words}(?![A-Za-z0-9])", stored, re.IGNORECASE)]


def decide(seat: Desk, home: int, decision: str, status: int = 303, **more: str) -> str:
    return seat.do(
        f"/console/records/deletions/{home}", status, decision=decision, reason="checked against item 14", **more
    )


def newest(service: Service) -> str:
    return str(max(rows(service, Message, Message.origin == "agent"), key=lambda row: row.id).body)


def everything_stored(service: Service) -> str:
    """All that stands in any table, as text; without what is of agents or of the county."""
    ours = {"agent", "agent_session", "policy", "handset_text", "worker_seen", "job", "send_bucket"}
    found = []
    with reading(service.engine) as session:
        for table in SQLModel.metadata.sorted_tables:
            if table.name not in ours:
                found += [f"{table.name}: {tuple(row)}" for row in session.execute(table.select())]
    return "\n".join(found)


def test_the_page_lays_the_request_beside_the_rule(service: Service, asked: House, seat: Desk) -> None:
    home = home_id(asked)
    assert f"/console/records/deletions/{home}" in seat.see("/console/records")
    page = seat.see(f"/console/records/deletions/{home}")
    assert "Readings are county records for three years after the last check." in page
    assert "its records schedule, item 14" in page
    assert 'name="keep_until" value="2030-03-18"' in page, "the rule's days after the last check"
    household = seat.see(f"/console/households/{home}")
    assert "Decide</a>" in household
    (need,) = rows(service, Escalation, Escalation.reason == "deletion")
    seat.do(f"/console/escalations/{need.id}/settle", 409, outcome="called")


@pytest.mark.parametrize(
    ("fields", "problem"),
    [
        ({"decision": "", "reason": "x"}, "Choose what is decided"),
        ({"decision": "all", "reason": ""}, "Say why"),
        ({"decision": "refuse", "reason": "x"}, "Choose what the household is told"),
        ({"decision": "in_part", "reason": "x", "keep_until": "2027-03-19"}, "a day to come"),
        ({"decision": "in_part", "reason": "x", "keep_until": "soon"}, "a day to come"),
    ],
)
def test_a_decision_is_whole_or_none(
    service: Service, asked: House, seat: Desk, fields: dict[str, str], problem: str
) -> None:
    page = seat.do(f"/console/records/deletions/{home_id(asked)}", 422, **fields)
    assert problem in page
    assert rows(service, DeletionDecision) == []


def test_refused_the_household_is_told_the_kind_of_reason_and_goes_on(
    service: Service, asked: House, seat: Desk
) -> None:
    decide(seat, home_id(asked), "refuse", why="rules")
    assert newest(service) == (
        "The county does not delete it: its records rules say that it must be kept. "
        "Ask Larkwater County Extension at 202-555-0110."
    )
    (decision,) = rows(service, DeletionDecision)
    assert (decision.granted, decision.category, decision.reason) == (False, "rules", "checked against item 14")
    assert "item 14" in decision.rule
    (need,) = rows(service, Escalation, Escalation.reason == "deletion")
    assert (need.state, need.outcome) == ("settled", "decided")
    assert "deletion_asked_at" not in rows(service, Household)[0].facts
    asked.say("keep")
    assert "Nothing is deleted" in max(rows(service, Message), key=lambda row: row.id).body
    seat.see(f"/console/records/deletions/{home_id(asked)}", 404)
    assert "Refused" in seat.see("/console/records")


def test_granted_it_can_be_taken_back_for_a_day_by_text(service: Service, asked: House, seat: Desk) -> None:
    service.clock.advance(days=3)  # the first day is over
    decide(seat, home_id(asked), "all")
    assert newest(service) == (
        "The county has decided to delete what it knows of this house, on Tue Mar 23 at 12:00 PM. "
        "Then we text you no more about it. To keep it text KEEP before then."
    )
    service.clock.advance(hours=23)
    asked.say("keep")
    assert "taken it back" in max(rows(service, Message), key=lambda row: row.id).body
    (decision,) = rows(service, DeletionDecision)
    assert decision.withdrawn_at is not None
    service.clock.advance(days=2)
    work(service)
    assert len(rows(service, Household)) == 1, "nothing was removed"
    assert rows(service, DeletionDecision)[0].carried_out_at is None


def test_a_coordinator_can_take_it_back_for_them_and_decides_only_once(
    service: Service, asked: House, seat: Desk
) -> None:
    decide(seat, home_id(asked), "all")
    assert "It can only be taken back now" in decide(seat, home_id(asked), "refuse", 422, why="rules")
    decide(seat, home_id(asked), "taken_back")
    assert newest(service) == "All right. We have taken it back and keep your place."
    service.clock.advance(days=2)
    work(service)
    assert len(rows(service, Household)) == 1


def full(service: Service, home: int) -> None:
    """A second phone that said stop, a note, a text in line: what else a file can hold."""
    with writing(service.engine) as session:
        now = service.clock.now()
        stopped = make_contact(session, service, "+12025550124")
        stopped.opted_out_at = now
        session.add(Membership(contact_id=stopped.id, household_id=home, role="owner", name="Ann Weir", joined_at=now))
        session.add(ConsentEvent(phone_key=stopped.phone_key, at=now, kind="stop", words="STOP"))
        session.add(HouseholdNote(household_id=home, agent_id=1, body="leave the key with Joe", at=now))


def carried_out(service: Service) -> None:
    service.clock.advance(hours=24, minutes=1)
    work(service)


def test_all_of_it_goes_but_the_hash_of_a_stop(service: Service, asked: House, seat: Desk) -> None:
    home = home_id(asked)
    full(service, home)
    sids = [row.carrier_sid for row in rows(service, Message) if row.direction == "in"]
    decide(seat, home, "all")
    carried_out(service)
    for table in (Household, Message, Escalation, ReadingRow, Check, Verdict, WallRow, Membership, HouseholdNote):
        assert rows(service, table) == [], table
    left = everything_stored(service)
    assert tells_of_the_resident(left) == []
    (stub,) = rows(service, Contact)
    assert stub.opted_out_at is not None
    assert (stub.phone_key, stub.phone_sealed) == (service.sealer.phone_key("+12025550124"), b"")
    assert [
        job.kind for job in live_jobs(service) if job.kind not in ("retention", "county_counts", "sweep_replies")
    ] == []
    with reading(service.engine) as session:
        assert session.execute(text("select count(*) from tombstone")).scalar() == len(sids)
    settings = service.settings
    take_turn(service, InboundText(sids[0], settings.account_sid, asked.number, settings.number, "HELLO"))
    assert rows(service, Household) == [], "a replayed webhook recreates nothing"
    (decision,) = rows(service, DeletionDecision)
    assert decision.removed["reading"] == 12
    assert "file_deleted" in [row.action for row in rows(service, Audit)]
    assert "12" in seat.see("/console/records")


def test_who_had_said_stop_stays_stopped_until_he_starts_again(service: Service, asked: House, seat: Desk) -> None:
    full(service, home_id(asked))
    decide(seat, home_id(asked), "all")
    carried_out(service)
    stopped = House(service, "+12025550124").say("hello")
    assert {row.outcome for row in rows(service, Message)} == {"silence"}
    stopped.say("START")
    (contact,) = rows(service, Contact)
    assert contact.opted_out_at is None
    assert service.sealer.open(contact.phone_sealed, contact.key_id) == "+12025550124"
    assert contact.last_digits == "0124"


def test_a_phone_that_comes_back_begins_anew(service: Service, asked: House, seat: Desk) -> None:
    decide(seat, home_id(asked), "all")
    carried_out(service)
    asked.say("HELLO")
    assert len(rows(service, Household)) == 1
    assert rows(service, Household)[0].address is None


def test_in_part_readings_and_verdicts_stay_and_say_nothing_of_anybody(
    service: Service, asked: House, seat: Desk
) -> None:
    home = home_id(asked)
    full(service, home)
    assert "Weir" in tells_of_the_resident(everything_stored(service))
    verdicts = [(v.place, v.band, v.policy_version, v.reasons) for v in rows(service, Verdict)]
    decide(seat, home, "in_part", keep_until="2030-03-18")
    assert "The readings alone stay until Mon Mar 18" in newest(service)
    carried_out(service)
    assert [(v.place, v.band, v.policy_version, v.reasons) for v in rows(service, Verdict)] == verdicts
    assert [r.value for r in rows(service, ReadingRow)] == [11, 11, 10, 11, 10, 10] * 2
    left = everything_stored(service)
    assert tells_of_the_resident(left) == []
    assert [w.name for w in rows(service, WallRow)] == ["K"]
    assert rows(service, Household)[0].area == "millrace"
    seat.see(f"/console/households/{home}", 404)
    assert "Nothing fits" in seat.see("/console/finding")
    service.clock.advance(days=3 * 366)
    with writing(service.engine) as session:
        now = service.clock.now()
        jobs.enqueue(session, "retention", key="retention", payload={}, run_at=now, now=now)
    work(service)
    for table in (Household, ReadingRow, Verdict, Check, WallRow):
        assert rows(service, table) == [], "its time is over"
    assert [c.opted_out_at is not None for c in rows(service, Contact)] == [True]
    with reading(service.engine) as session:
        assert session.get(RetentionStep, "kept_readings").last_removed > 12


def test_another_house_of_the_same_phone_is_left_alone(service: Service, asked: House, seat: Desk) -> None:
    home, phone = home_id(asked), rows(service, Contact)[0].id
    with writing(service.engine) as session:
        now = service.clock.now()
        second = Household(address="9 Mill Rd", created_at=now, updated_at=now)
        session.add(second)
        session.flush()
        session.add(Membership(contact_id=phone, household_id=second.id, role="owner", joined_at=now))
    decide(seat, home, "all")
    assert newest(service).startswith("12 Weir St:"), "which house it is about"
    carried_out(service)
    assert [h.address for h in rows(service, Household)] == ["9 Mill Rd"]
    (contact,) = rows(service, Contact)
    assert service.sealer.open(contact.phone_sealed, contact.key_id) == asked.number


def test_a_turn_that_was_decided_before_it_went_is_not_stored_into_it(
    service: Service, asked: House, seat: Desk
) -> None:
    """KEEP and the end of the day at one instant: whoever holds the row first is right."""
    decide(seat, home_id(asked), "all")
    settings = service.settings
    inbound = InboundText("SMlate", settings.account_sid, asked.number, settings.number, "keep")
    with service.engine.connect() as connection:
        known = load_by_phone(connection, service.sealer.phone_key(asked.number))
        meant = house_meant(connection, service, inbound, known)
        plan = plan_text(service, inbound, origin_of(asked.number), meant)
    carried_out(service)
    with writing(service.engine) as session, pytest.raises(Moved):
        keep_text(session.connection(), service, inbound, origin_of(asked.number), known, plan)
    assert rows(service, Household) == []


class Reminded:
    """How often the household was reminded."""

    def __init__(self, service: Service) -> None:
        self.service = service

    @property
    def times(self) -> int:
        return len(rows(self.service, Message, Message.origin == "started"))


@pytest.mark.parametrize(("texts", "times"), [(True, 1), (False, 0)])
def test_reminders_wait_for_the_countys_word_where_it_says_so(
    service: Service, house: Callable[..., House], desk: Callable[..., Desk], texts: bool, times: int
) -> None:
    house().set_up().measure("K1 24 23 22, K2 11 10 10").say("delete my data", "12", "1")
    rule = service.county.records.model_copy(update={"texts_while_deletion_is_open": texts})
    county = service.county.model_copy(update={"records": rule})
    ruled = service.with_county(county)
    home = rows(service, Household)[0]
    assert home.next_check_on is not None
    due = (home.next_check_on - service.clock.now().date()).days
    service.clock.advance(days=due)
    work(ruled)
    assert Reminded(service).times == times
    if texts:
        return
    with reading(service.engine) as session:
        runs = session.execute(text("select count(*) from job where kind = 'check_due' and state = 'ready'")).scalar()
    assert runs == 1, "put off, not forgotten"
    decide(desk("vega", None, coordinator=True), home.id, "refuse", why="need")
    service.clock.advance(days=1)
    work(ruled)
    assert Reminded(service).times == 1


def test_nothing_of_the_reason_reaches_the_household_or_the_audit(service: Service, asked: House, seat: Desk) -> None:
    decide(seat, home_id(asked), "refuse", why="unproved")
    assert not re.search("item 14", newest(service))
    assert all("item 14" not in str(row.detail) for row in rows(service, Audit))
    assert isinstance(rows(service, DeletionDecision)[0].decided_at, dt.datetime)
