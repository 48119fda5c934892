"""A second phone of a household, added by an agent because its owner asked for it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from sqlalchemy import update
from sqlmodel import Session, col

from guide_service.carrier.phone_numbers import SenderKind, normalise
from guide_service.console.audit import note
from guide_service.console.catalogue import N_
from guide_service.console.entering import tell
from guide_service.console.sign_in import SignedIn
from guide_service.contacts import contact_of
from guide_service.dialogue.saying import Say
from guide_service.records import ConsentEvent, Contact, Household, Membership
from guide_service.turning.joining import make_member
from guide_service.turning.people import people_of
from guide_service.wiring import Service


class PhoneAnswer(StrEnum):
    ADDED = "phone_added"
    IS_HERE = "phone_is_here"
    STOPPED = "phone_stopped"
    WRONG = "phone_wrong"


@dataclass(frozen=True, slots=True)
class NewPhone:
    number: str
    role: str
    name: str
    language: str


REFUSALS = {
    PhoneAnswer.IS_HERE: N_("That phone belongs to this household already."),
    PhoneAnswer.STOPPED: N_("Not added: that phone has said STOP. Only it can start again."),
    PhoneAnswer.WRONG: N_("Not added: that is no number that can be texted."),
}
NO_PHONE = NewPhone("", "", "", "")


def add_phone(session: Session, service: Service, who: SignedIn, home: Household, phone: NewPhone) -> PhoneAnswer:
    """Its owner has agreed, and told the agent: that stands in the ledger. Whoever said stop is not added."""
    number = normalise(phone.number)
    if number is None:
        return PhoneAnswer.WRONG
    contact = contact_of(session, service, number, phone.language)
    if contact.opted_out_at is not None or contact.kind != SenderKind.PHONE:
        return PhoneAnswer.STOPPED if contact.opted_out_at else PhoneAnswer.WRONG
    if any(person.contact.id == contact.id for person in people_of(session, home.id)):
        return PhoneAnswer.IS_HERE
    session.connection().execute(
        update(Household).where(col(Household.id) == home.id).values(version=Household.version + 1)
    )
    _consented(session, service, contact)
    make_member(session.connection(), contact.id, home.id, "home.rest", service.clock.now(), by_code=False)
    theirs = (col(Membership.contact_id) == contact.id, col(Membership.household_id) == home.id)
    values = {"role": phone.role, "name": phone.name[:60] or None, "added_by": who.agent.id}
    session.connection().execute(update(Membership).where(*theirs).values(**values))
    session.expire_all()
    person = next(each for each in people_of(session, home.id) if each.contact.id == contact.id)
    tell(session, service, who, home.id, person,
         [Say("agent.phone_added", {"office": service.county.office_name})])  # fmt: skip
    note(session, service, who, "add_phone", home.id, contact=contact.id)
    return PhoneAnswer.ADDED


def _consented(session: Session, service: Service, contact: Contact) -> None:
    if contact.consented_at is not None:
        return
    contact.consented_at = service.clock.now()
    event = ConsentEvent(phone_key=contact.phone_key, at=service.clock.now(), kind="given", words="told to an agent",
                         language=contact.language, source="agent")  # fmt: skip
    session.add_all((contact, event))
    session.flush()
