"""A take-over that is left alone goes back to the machine, and the person is told."""

from __future__ import annotations

from guide_service import jobs
from guide_service.carrier.recording import RecordingSender
from guide_service.console import takeover
from guide_service.database import writing
from guide_service.outbox import start_text
from guide_service.records import Audit, Contact, Conversation, Escalation, Household
from guide_service.wiring import Service
from guide_service.wording.sms import SmsText
from tests.people import NUMBER, add_person, bodies, change, live_jobs, rows, work
from tests.turn.conftest import Phones

AGENT = 77


def taken_over(service: Service, **contact: object) -> int:
    add_person(service, **contact)
    (conversation,) = rows(service, Conversation)
    with writing(service.engine) as session:
        takeover.take_over(session, service, conversation.id, AGENT)
    return conversation.id


def test_after_the_countys_time_the_machine_speaks_again(service: Service, sender: RecordingSender) -> None:
    conversation = taken_over(service)
    service.clock.advance(hours=3.9)
    assert work(service) == 0
    service.clock.advance(hours=0.2)
    work(service)
    (talk,) = rows(service, Conversation)
    assert (talk.id, talk.taken_over_by, talk.agent_active_at) == (conversation, None, None)
    assert bodies(sender) == ["This is the automatic guide again. You can text me as before. Text 0 for a person."]
    (audit,) = rows(service, Audit)
    assert (audit.agent_id, audit.action, audit.detail["why"]) == (None, "hand_back", "idle")
    assert live_jobs(service) == []


def test_what_was_written_meanwhile_and_nobody_answered_is_for_a_person(
    service: Service, sender: RecordingSender
) -> None:
    taken_over(service)
    (contact,) = rows(service, Contact)
    Phones(service).say("are you still there? the wall is wet again", NUMBER)
    service.clock.advance(hours=5)
    work(service)
    (waiting,) = rows(service, Escalation)
    assert (waiting.reason, waiting.state, waiting.contact_id) == ("person", "waiting", contact.id)
    assert waiting.words == "are you still there? the wall is wet again"
    assert "is passed on to a person" in bodies(sender)[-1]


def test_what_an_agent_answered_is_not_put_on_the_list(service: Service, sender: RecordingSender) -> None:
    conversation = taken_over(service)
    (contact,) = rows(service, Contact)
    Phones(service).say("when do you come", NUMBER)
    home = rows(service, Household)[0].id
    with writing(service.engine) as session:
        start_text(
            session, service, contact=session.get_one(Contact, contact.id), household_id=home,
            texts=[SmsText("On Friday", "GSM-7", 1, ())], origin="agent", send_at=None, key=None, agent_id=AGENT,
        )  # fmt: skip
        takeover.stay_active(session, service, conversation)
    service.clock.advance(hours=5)
    work(service)
    assert rows(service, Escalation) == []


def test_an_agent_who_is_active_keeps_the_conversation(service: Service, sender: RecordingSender) -> None:
    conversation = taken_over(service)
    service.clock.advance(hours=3)
    change(service, Conversation, conversation, agent_active_at=service.clock.now())
    service.clock.advance(hours=2)
    work(service)
    (talk,) = rows(service, Conversation)
    assert talk.taken_over_by == AGENT
    service.clock.advance(hours=2.1)
    work(service)
    (talk,) = rows(service, Conversation)
    assert talk.taken_over_by is None
    assert len(sender.sent) == 1


def test_a_conversation_handed_back_by_hand_is_left_alone(service: Service, sender: RecordingSender) -> None:
    conversation = taken_over(service)
    with writing(service.engine) as session:
        takeover.hand_back(session, conversation)
    service.clock.advance(hours=5)
    assert work(service) == 0
    assert sender.sent == []


def test_a_job_for_a_conversation_that_nobody_has_does_nothing(service: Service, sender: RecordingSender) -> None:
    conversation = taken_over(service)
    with writing(service.engine) as session:
        takeover.hand_back(session, conversation)
        now = service.clock.now()
        key = takeover.take_over_key(conversation)
        jobs.enqueue(session, "take_over_end", key=key, payload={"conversation": conversation}, run_at=now, now=now)
    assert work(service) == 1
    assert sender.sent == []
    assert rows(service, Audit) == []


def test_somebody_who_stopped_us_is_told_nothing(service: Service, sender: RecordingSender) -> None:
    taken_over(service)
    (contact,) = rows(service, Contact)
    change(service, Contact, contact.id, opted_out_at=service.clock.now())
    service.clock.advance(hours=5)
    work(service)
    assert sender.sent == []
    assert rows(service, Conversation)[0].taken_over_by is None
