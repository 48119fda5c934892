"""Silent households without a planned check: found once a day, asked twice, never flooded, held where we owe a word."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from guide_service import jobs
from guide_service.carrier.recording import RecordingSender
from guide_service.database import writing
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.dialogue.events import Asked, Expect, Offer
from guide_service.followup import silence
from guide_service.followup.escalations import raise_escalation
from guide_service.followup.other_channel import agreed_to_texts
from guide_service.records import ConsentEvent, Contact, Conversation, Escalation, Household, Job, Membership
from guide_service.turning.knowing import asked_as_stored
from guide_service.wiring import Service
from tests.people import (
    NUMBER,
    OTHER_NUMBER,
    add_person,
    change,
    escalations,
    live_jobs,
    local,
    row,
    rows,
    work,
)

ASKED = asked_as_stored(Asked(Expect.CHOICE, (Offer("1", "did", ("Done",)),)))


def at_the_mud(service: Service, number: str = NUMBER, **contact: Any) -> tuple[int, int]:
    """A household that was told to shovel the mud out."""
    person, house = add_person(service, number, last_heard_at=service.clock.now(), **contact)
    change(service, Household, house, stage="mud_out")
    talk = rows(service, Conversation, Conversation.household_id == house)[0]
    change(service, Conversation, talk.id, state="order.mud", asked=ASKED)
    return person, house


def days_pass(service: Service, days: int) -> None:
    """As with a worker that is always there: what falls due is done at its time."""
    end = service.clock.now() + dt.timedelta(days=days)
    with writing(service.engine) as session:
        now = service.clock.now()
        jobs.enqueue(session, silence.KIND, key=silence.KIND, payload={}, run_at=now, now=now, replace=False)
    while service.clock.at < end:
        work(service)
        due = [job.run_at for job in live_jobs(service) if job.state == "ready"]
        service.clock.at = min(end, max(service.clock.at + dt.timedelta(minutes=1), min(due, default=end)))
    work(service)


def went(sender: RecordingSender, number: str = NUMBER) -> list[str]:
    return [text.body for text in sender.sent if text.to == number]


def test_two_nudges_then_the_agents_list_and_nothing_more_for_months(service: Service, sender: RecordingSender) -> None:
    _, house = at_the_mud(service)
    days_pass(service, 4)
    assert went(sender) == []
    days_pass(service, 7)
    first, second = went(sender)
    assert "We kept your place" in first
    assert "mud out" in first
    assert "DONE" in first
    assert "0 for a person" in first
    assert "We have not heard from you" in second
    assert escalations(service) == []
    days_pass(service, 3)
    (raised,) = escalations(service)
    assert (raised.reason, raised.detail) == ("lost_from_sight", {"band": "unread", "stage": "mud_out"})
    change(service, Escalation, raised.id, state="settled", settled_at=service.clock.now())
    days_pass(service, 45)
    assert len(went(sender)) == 2
    assert len(escalations(service)) == 1
    stored = row(service, Household, house)
    assert (stored.stage, stored.band, stored.unanswered) == ("mud_out", "unread", 2)


def test_nothing_goes_out_in_the_quiet_hours(service: Service, sender: RecordingSender) -> None:
    _, house = at_the_mud(service)
    change(service, Household, house, facts={"remind_at": "20:30"})
    service.clock.at = local(service, 2027, 3, 21, 23)
    days_pass(service, 2)
    zone = service.county.zone("millrace")
    (sent,) = rows(service, Job, Job.kind == "send_text")
    assert sent.run_at.astimezone(zone).time() == dt.time(20, 30)
    assert len(sender.sent) == 1


@pytest.mark.parametrize("held", ["person", "meter", "agent"])
def test_who_waits_for_us_is_not_asked_how_it_goes(service: Service, sender: RecordingSender, held: str) -> None:
    _, house = at_the_mud(service)
    with writing(service.engine) as session:
        if held == "person":
            raise_escalation(session, service, house, EscalationReason.PERSON, Urgency.SOON)
        if held == "meter":
            raise_escalation(session, service, house, EscalationReason.METER_WANTED, Urgency.ROUTINE)
    if held == "agent":
        talk = rows(service, Conversation)[0]
        change(service, Conversation, talk.id, taken_over_by=1, taken_over_at=service.clock.now())
    days_pass(service, 30)
    assert went(sender) == []


def test_days_count_anew_from_the_day_on_which_we_answered(service: Service, sender: RecordingSender) -> None:
    _, house = at_the_mud(service)
    with writing(service.engine) as session:
        asked = raise_escalation(session, service, house, EscalationReason.PERSON, Urgency.SOON)
    days_pass(service, 20)
    change(service, Escalation, asked, state="settled", settled_at=service.clock.now())
    days_pass(service, 4)
    assert went(sender) == []
    days_pass(service, 2)
    assert len(went(sender)) == 1


def test_growth_that_was_reported_as_routine_does_not_end_the_way(service: Service, sender: RecordingSender) -> None:
    _, house = at_the_mud(service)
    with writing(service.engine) as session:
        raise_escalation(session, service, house, EscalationReason.MOULD, Urgency.ROUTINE)
    days_pass(service, 6)
    assert len(went(sender)) == 1


def test_a_chase_that_is_held_up_goes_on_where_it_was(service: Service, sender: RecordingSender) -> None:
    """Between the two nudges somebody asks for a person for them; the second one waits its days afterwards."""
    _, house = at_the_mud(service)
    days_pass(service, 6)
    assert len(went(sender)) == 1
    with writing(service.engine) as session:
        asked = raise_escalation(session, service, house, EscalationReason.PERSON, Urgency.SOON)
    days_pass(service, 20)
    assert len(went(sender)) == 1
    change(service, Escalation, asked, state="settled", settled_at=service.clock.now())
    days_pass(service, 2)
    assert len(went(sender)) == 2
    assert [raised.reason for raised in escalations(service)] == ["person"]


@pytest.mark.parametrize("values", [{"consented_at": None}, {"opted_out_at": dt.datetime(2027, 3, 15, tzinfo=dt.UTC)},
                                    {"undeliverable": "30005"}])  # fmt: skip
def test_who_never_agreed_or_cannot_be_reached_is_left_alone(
    service: Service, sender: RecordingSender, values: dict[str, Any]
) -> None:
    person, _ = at_the_mud(service)
    change(service, Contact, person, **values)
    days_pass(service, 20)
    assert (went(sender), escalations(service)) == ([], [])


@pytest.mark.parametrize("values", [{"stage": "afterwards"}, {"merged_into": 1},
                                    {"deleted_at": dt.datetime(2027, 3, 15, tzinfo=dt.UTC)}])  # fmt: skip
def test_a_house_that_is_closed_merged_or_deleted_is_left_alone(
    service: Service, sender: RecordingSender, values: dict[str, Any]
) -> None:
    _, house = at_the_mud(service)
    change(service, Household, house, **values)
    days_pass(service, 20)
    assert (went(sender), escalations(service)) == ([], [])


def test_a_check_that_is_planned_has_nudges_of_its_own(service: Service) -> None:
    _, house = at_the_mud(service)
    with writing(service.engine) as session:
        far = service.clock.now() + dt.timedelta(days=20)
        jobs.enqueue(session, "check_due", key=f"check:{house}", payload={"household": house}, run_at=far,
                     now=service.clock.now())  # fmt: skip
    days_pass(service, 19)
    assert [job.kind for job in live_jobs(service)].count("silence_due") == 0
    assert row(service, Household, house).unanswered == 0


def test_the_days_until_agents_hear_of_it_are_the_countys(service: Service) -> None:
    rules = service.county.silence.model_copy(update={"work": 3, "listed": 6})
    other = service.with_county(service.county.model_copy(update={"silence": rules}))
    object.__setattr__(service, "in_force", other.in_force)
    at_the_mud(service)
    days_pass(service, 11)  # asked on the 3rd and the 6th day
    assert escalations(service) == []
    days_pass(service, 2)
    assert [each.reason for each in escalations(service)] == [EscalationReason.LOST_FROM_SIGHT]


def test_an_old_database_is_asked_a_few_a_day_and_the_longest_silent_first(
    service: Service, sender: RecordingSender
) -> None:
    rules = service.county.silence.model_copy(update={"most_a_day": 2})
    other = service.with_county(service.county.model_copy(update={"silence": rules}))
    object.__setattr__(service, "in_force", other.in_force)
    houses = []
    for number in range(5):
        _, house = at_the_mud(service, f"+1202555013{number}")
        houses.append(house)
        silent_since = service.clock.now() - dt.timedelta(days=30 - number)
        change(service, Household, house, updated_at=silent_since)
    service.clock.at = local(service, 2027, 3, 16, 6)
    begun = []
    for _ in range(4):
        days_pass(service, 1)
        begun.append([row(service, Household, house).unanswered for house in houses])
    assert begun == [[1, 1, 0, 0, 0], [1, 1, 1, 1, 0], [1, 1, 1, 1, 1], [1, 1, 1, 1, 1]]
    assert len(sender.sent) == 5


def test_who_was_silent_for_so_long_that_the_number_may_be_anybodys_is_only_listed(
    service: Service, sender: RecordingSender
) -> None:
    person, house = at_the_mud(service)
    long_ago = service.clock.now() - dt.timedelta(days=90)
    change(service, Contact, person, last_heard_at=long_ago)
    change(service, Household, house, updated_at=long_ago)
    days_pass(service, 7)
    assert went(sender) == []
    assert [raised.reason for raised in escalations(service)] == ["lost_from_sight"]


def test_a_phone_of_several_houses_is_asked_about_one_of_them_on_one_day(
    service: Service, sender: RecordingSender
) -> None:
    person, _ = at_the_mud(service)
    now = service.clock.now()
    with writing(service.engine) as session:
        second = Household(area="millrace", stage="mud_out", created_at=now, updated_at=now)
        session.add(second)
        session.flush()
        session.add(Membership(contact_id=person, household_id=second.id, role="owner", joined_at=now))
        session.add(Conversation(contact_id=person, household_id=second.id, state="order.mud", updated_at=now))
    service.clock.at = local(service, 2027, 3, 20, 6)
    days_pass(service, 1)
    assert len(went(sender)) == 1
    days_pass(service, 1)
    assert len(went(sender)) == 2


def test_the_sweep_done_twice_begins_nothing_twice(service: Service, sender: RecordingSender) -> None:
    at_the_mud(service)
    service.clock.at = local(service, 2027, 3, 20, 6)
    for _ in range(3):
        with writing(service.engine) as session:
            now = service.clock.now()
            jobs.enqueue(session, silence.KIND, key=silence.KIND, payload={}, run_at=now, now=now)
        work(service)
    assert [job.kind for job in live_jobs(service)].count("silence_due") == 1
    days_pass(service, 1)
    assert len(went(sender)) == 1


INTRO = "This is the office. We text you."
"""What is shown before the question whether we may text."""


def said(*events: tuple[str, str, str]) -> list[ConsentEvent]:
    now = dt.datetime(2027, 3, 15, tzinfo=dt.UTC)
    return [
        ConsentEvent(phone_key="x", at=now, kind=kind, source=source, words=words) for kind, source, words in events
    ]


def test_a_phone_that_chose_calls_is_texted_at_last_if_its_owner_agreed_to_texts_too(
    service: Service, sender: RecordingSender
) -> None:
    person, _ = at_the_mud(service, channel="call")
    key = row(service, Contact, person).phone_key
    shown = service.catalogues.text("en", "welcome.intro")
    with writing(service.engine) as session:
        for event in said(("shown", "sms", shown), ("given", "sms", "1"), ("given", "call", "1")):
            event.phone_key = key
            session.add(event)
    days_pass(service, 11)
    assert went(sender) == []
    days_pass(service, 2)
    (by_text,) = went(sender)
    assert "we called you and did not reach you" in by_text


@pytest.mark.parametrize(("events", "agreed"), [
    ([("shown", "sms", INTRO), ("given", "sms", "1")], True),
    ([("shown", "sms", INTRO), ("shown", "sms", "Shall we call?"), ("given", "sms", "1")], False),
    ([("shown", "call", "We call you."), ("given", "call", "1")], False),
    ([("shown", "sms", INTRO), ("given", "sms", "1"), ("stop", "sms", "stop")], False),
    ([("stop", "sms", "stop"), ("start", "sms", "start")], True),
    ([("shown", "sms", INTRO), ("refused", "sms", "2")], False),
    ([], False),
])  # fmt: skip
def test_agreed_to_calls_is_not_agreed_to_texts(events: list[tuple[str, str, str]], agreed: bool) -> None:
    assert agreed_to_texts(said(*events), lambda _language: INTRO) is agreed


def test_a_phone_that_is_texted_is_never_called(service: Service, sender: RecordingSender) -> None:
    person, _ = at_the_mud(service)
    key = row(service, Contact, person).phone_key
    with writing(service.engine) as session:
        session.add(ConsentEvent(phone_key=key, at=service.clock.now(), kind="given", source="call"))
    days_pass(service, 14)
    assert sender.calls == []


def test_another_phone_of_the_house_is_told_before_the_agents_are(service: Service, sender: RecordingSender) -> None:
    _, house = at_the_mud(service)
    other, their_own = add_person(service, OTHER_NUMBER, last_heard_at=service.clock.now())
    change(service, Household, their_own, stage="afterwards")
    with writing(service.engine) as session:
        session.add(Membership(contact_id=other, household_id=house, role="helper", joined_at=service.clock.now()))
    days_pass(service, 11)
    assert went(sender, OTHER_NUMBER) == []
    days_pass(service, 2)
    assert ["have not heard" in body for body in went(sender, OTHER_NUMBER) if "house" in body] == [True]
