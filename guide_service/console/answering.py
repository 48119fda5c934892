"""An agent's answer by text: what is wrong with it, if anything, and its way into the outbox."""

from __future__ import annotations

from enum import StrEnum

from sqlmodel import Session

from guide_service.carrier.phone_numbers import SenderKind
from guide_service.console.audit import note
from guide_service.console.escalations import claim_all
from guide_service.console.phrases import signed
from guide_service.console.sign_in import SignedIn
from guide_service.console.takeover import stay_active, take_over, told_of_it
from guide_service.outbox import start_text
from guide_service.records import Contact, Conversation
from guide_service.turning.people import Person
from guide_service.wiring import Service
from guide_service.wording.gsm import gsm_safe
from guide_service.wording.segments import segments
from guide_service.wording.sms import LONGEST_TEXT, MOST_SEGMENTS, MOST_WIDE_SEGMENTS, SmsText


class Objection(StrEnum):
    EMPTY = "empty"
    TOO_LONG = "too_long"
    LONG = "long"
    """More segments than a text should have: sent only when the agent insists."""


def agents_text(words: str, signature: str = "") -> SmsText:
    """The words as they are sent, signed: typography made plain, so that it takes no more segments than it must."""
    body = gsm_safe(signed(words.replace("\r\n", "\n").strip(), signature))
    counted = segments(body)
    return SmsText(body, counted.encoding, counted.count, ())


def objection_to(text: SmsText, insists: bool) -> Objection | None:
    if not text.body:
        return Objection.EMPTY
    if len(text.body.encode("utf-16-le", "surrogatepass")) // 2 > LONGEST_TEXT:
        return Objection.TOO_LONG
    most = MOST_SEGMENTS if text.encoding == "GSM-7" else MOST_WIDE_SEGMENTS
    return Objection.LONG if text.segments > most and not insists else None


def say_taken_over(session: Session, service: Service, who: SignedIn, conversation: Conversation) -> None:
    """To somebody whom the guide answered until now and who can be texted."""
    contact = session.get_one(Contact, conversation.contact_id)
    if conversation.taken_over_by or contact.opted_out_at or contact.kind != SenderKind.PHONE:
        return
    start_text(
        session, service, contact=contact, household_id=conversation.household_id, origin="agent", send_at=None,
        texts=told_of_it(service, contact), key=None, agent_id=who.agent.id,
    )  # fmt: skip


def answer(
    session: Session, service: Service, who: SignedIn, household_id: int, person: Person, text: SmsText, silence: bool
) -> None:
    """Sends it. ``silence``: take the conversation over, so that the guide keeps out of it; they are told."""
    conversation = person.conversation
    takes_over = silence and conversation is not None and not conversation.taken_over_by
    sent = start_text(
        session,
        service,
        contact=person.contact,
        household_id=household_id,
        texts=[text, *(told_of_it(service, person.contact) if takes_over else ())],
        origin="agent",
        send_at=None,
        key=None,
        agent_id=who.agent.id,
    )
    if conversation is not None and silence:
        take_over(session, service, conversation.id, who.agent.id)
    elif conversation is not None and conversation.taken_over_by:
        stay_active(session, service, conversation.id)
    claim_all(session, service, who, household_id)
    note(session, service, who, "answer", household_id, messages=[str(message.id) for message in sent])
