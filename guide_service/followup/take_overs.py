"""A take-over that no agent has touched for the county's time goes back to the machine, and the person is told."""

from __future__ import annotations

from sqlmodel import Session

from guide_service.console.takeover import hand_back, idle_time
from guide_service.database import writing
from guide_service.dialogue.saying import Say
from guide_service.followup.work import Work
from guide_service.outbox import start_text
from guide_service.records import Audit, Contact, Conversation
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
    if contact.opted_out_at is None:
        texts = compose([Say("alarm.back_to_guide")], contact.language, service.catalogues)
        start_text(
            session, service, contact=contact, household_id=conversation.household_id, texts=texts,
            origin="started", send_at=None, key=None,
        )  # fmt: skip
