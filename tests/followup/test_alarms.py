"""What waits for a person is alarmed until somebody claims it, in words that tell nothing about a household."""

from __future__ import annotations

import datetime as dt

import pytest

from guide_service import jobs
from guide_service.carrier.recording import RecordingSender
from guide_service.database import writing
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.followup.escalations import alarm_key, raise_escalation
from guide_service.records import Contact, Escalation
from guide_service.wiring import Service
from guide_service.wording.segments import segments
from tests.people import add_person, bodies, change, escalations, live_jobs, local, rows, work

ON_CALL = "+12025550111"


def escalate(
    service: Service, household: int, reason: EscalationReason = EscalationReason.DANGER, urgency: int = Urgency.DANGER
) -> int:
    with writing(service.engine) as session:
        return raise_escalation(session, service, household, reason, urgency, words="the wall smells of gas")


def run_for(service: Service, **time: float) -> None:
    end = service.clock.at + dt.timedelta(**time)
    while service.clock.at < end:
        work(service)
        service.clock.advance(minutes=5)
    work(service)


def test_a_danger_is_alarmed_at_once_and_again_until_it_is_claimed(service: Service, sender: RecordingSender) -> None:
    _, household = add_person(service)
    service.clock.at = local(service, 2027, 3, 15, 2, 30)
    danger = escalate(service, household)
    work(service)
    assert [(text.to, text.body) for text in sender.sent] == [
        (ON_CALL, "DANGER: someone texted words of danger. 1 household waits on your list. Please claim it there.")
    ]
    run_for(service, minutes=20)
    assert len(sender.sent) == 3
    assert sender.sent[2].body.startswith("Still open. DANGER")
    with writing(service.engine) as session:
        session.get_one(Escalation, danger).state = "claimed"
        jobs.cancel(session, alarm_key(danger))
    run_for(service, hours=3)
    assert len(sender.sent) == 3
    assert escalations(service)[0].alarms == 3


def test_a_claim_without_a_cancel_ends_the_alarms_too(service: Service, sender: RecordingSender) -> None:
    _, household = add_person(service)
    change(service, Escalation, escalate(service, household), state="settled")
    run_for(service, hours=1)
    assert sender.sent == []
    assert live_jobs(service) == []


@pytest.mark.parametrize("urgency", [Urgency.URGENT, Urgency.SOON])
def test_anything_else_is_alarmed_when_it_has_waited_and_only_in_office_hours(
    service: Service, sender: RecordingSender, urgency: int
) -> None:
    _, household = add_person(service, area="upper_larkwater")
    service.clock.at = local(service, 2027, 3, 19, 15, 30)  # a Friday; this office closes at four
    escalate(service, household, EscalationReason.MOULD, urgency)
    run_for(service, days=2, hours=17, minutes=20)
    assert sender.sent == []
    service.clock.at = local(service, 2027, 3, 22, 9, 0)
    work(service)
    assert len(sender.sent) == 1
    assert "mold is reported" in sender.sent[0].body


def test_all_that_waits_over_a_night_is_one_text_in_the_morning(service: Service, sender: RecordingSender) -> None:
    service.clock.at = local(service, 2027, 3, 15, 20, 0)
    for number in range(4):
        _, household = add_person(service, f"+1202555012{number}")
        urgency = Urgency.URGENT if number == 2 else Urgency.SOON
        escalate(service, household, EscalationReason.PERSON, urgency)
    service.clock.at = local(service, 2027, 3, 16, 8, 0)
    work(service)
    assert bodies(sender) == [
        "Urgent: someone asks for a person. 4 requests wait on your list. Please claim the first."
    ]
    assert [each.alarms for each in escalations(service)] == [1, 1, 1, 1]


def test_a_text_to_an_agent_holds_nothing_about_the_household(service: Service, sender: RecordingSender) -> None:
    contact, household = add_person(service)
    change(service, Contact, contact, last_digits="0123")
    for reason in EscalationReason:
        escalate(service, household, reason, Urgency.DANGER)
    work(service)
    run_for(service, minutes=15)
    assert len(sender.sent) >= 2
    for text in sender.sent:
        assert "gas" not in text.body
        assert "0123" not in text.body
        assert str(household) not in text.body
        assert segments(text.body).count == 1


@pytest.mark.parametrize("reason", list(EscalationReason))
@pytest.mark.parametrize("urgency", [1, 2, 3, 4])
def test_every_reason_has_words_that_fit_one_segment(
    service: Service, sender: RecordingSender, reason: EscalationReason, urgency: int
) -> None:
    _, household = add_person(service)
    change(service, Escalation, escalate(service, household, reason, urgency), alarms=1)
    service.clock.at = local(service, 2027, 3, 17, 12)
    work(service)
    assert sender.sent
    assert {segments(text.body).count for text in sender.sent} == {1}


def test_an_agent_on_call_is_a_contact_made_once(service: Service) -> None:
    _, household = add_person(service)
    escalate(service, household)
    run_for(service, minutes=30)
    (agent,) = rows(service, Contact, Contact.kind == "agent")
    assert service.sealer.open(agent.phone_sealed, agent.key_id) == ON_CALL


def test_the_same_reason_again_is_the_same_escalation_and_sets_no_second_alarm(service: Service) -> None:
    _, household = add_person(service)
    first = escalate(service, household, EscalationReason.MOULD, Urgency.SOON)
    (before,) = live_jobs(service)
    service.clock.advance(minutes=30)
    assert escalate(service, household, EscalationReason.MOULD, Urgency.URGENT) == first
    (raised,) = escalations(service)
    assert (raised.times, raised.urgency) == (2, Urgency.URGENT)
    (after,) = live_jobs(service)
    assert after.run_at == before.run_at
    change(service, Escalation, first, state="settled")
    assert escalate(service, household, EscalationReason.MOULD, Urgency.SOON) != first
