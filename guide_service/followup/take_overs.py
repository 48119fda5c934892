"""A take-over that no agent has touched for the county's time goes back to the machine, and the person is told.

What the person wrote last and nobody answered is put on the agents' list: the machine kept silent on it.
"""

from __future__ import annotations

from sqlmodel import Session, col, select

from guide_service.console.takeover import hand_back, idle_time
from guide_service.database import writing
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.dialogue.saying import Say
from guide_service.followup.escalations import MOST_WORDS, raise_escalation
from guide_service.followup.work import Work
from guide_service.outbox import start_text
from guide_service.records import Audit, Contact, Conversation, Message
from guide_service.turning.deciding import Silence
from guide_service.wiring import Service
from guide_service.wording.sms import compose


def take_over_end(work: Work) -> None:
    service, now = work.service, work.service.clock.now()
    with writing(service.engine) as session:
        # the conversation before the job, as an agent who hands back locks them
        conversation = session.get(Conversation, work.number("conversation"), with_for_update=True)
        work.hold(session)
        if conversation is not None and conversation.taken_over_by is not None:
            active = conversation.agent_active_at or conversation.taken_over_at or now
            if active + idle_time(service) > now:
                work.again(session, active + idle_time(service))
            else:
                _give_back(session, service, conversation)
        work.settle(session)


def _give_back(session: Session, service: Service, conversation: Conversation) -> None:
    agent_id = conversation.taken_over_by
    hand_back(session, conversation.id)
    now, detail = service.clock.now(), {"conversation": str(conversation.id), "why": "idle", "was": str(agent_id)}
    session.add(Audit(at=now, household_id=conversation.household_id, action="hand_back", detail=detail))
    contact = session.get_one(Contact, conversation.contact_id)
    unanswered = _unanswered(session, conversation)
    if unanswered is not None:
        raise_escalation(
            session, service, conversation.household_id, EscalationReason.PERSON, Urgency.SOON, contact_id=contact.id,
            message_id=unanswered.id, conversation_id=conversation.id, detail={"about": "unanswered"},
            words=(unanswered.body or "")[:MOST_WORDS],
        )  # fmt: skip
    if contact.opted_out_at is None:
        office = {"office": service.county_facts.office_name}
        say = Say("alarm.back_unanswered", office) if unanswered else Say("alarm.back_to_guide")
        texts = compose([say], contact.language, service.catalogues)
        start_text(
            session, service, contact=contact, household_id=conversation.household_id, texts=texts,
            origin="started", send_at=None, key=None,
        )  # fmt: skip


def _unanswered(session: Session, conversation: Conversation) -> Message | None:
    """The newest text of the person on which the guide kept silent, if no agent wrote after it."""
    of_both = (Message.household_id == conversation.household_id, Message.contact_id == conversation.contact_id)
    by_people = (col(Message.direction) == "in") | (col(Message.origin) == "agent")
    newest = session.exec(select(Message).where(*of_both, by_people).order_by(col(Message.id).desc()).limit(1)).first()
    return newest if newest is not None and newest.outcome_reason == Silence.TAKEN_OVER else None
