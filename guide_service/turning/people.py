"""The phones of a household, and which of them may be told something that nobody asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, select

from guide_service.carrier.phone_numbers import SenderKind
from guide_service.records import Contact, Conversation, Membership
from guide_service.turning.joining import THIRD_PARTIES


@dataclass(frozen=True, slots=True)
class Person:
    contact: Contact
    membership: Membership
    conversation: Conversation | None


def people_of(session: Session, household_id: int) -> tuple[Person, ...]:
    """Who belongs to it now, the one heard last first."""
    rows = session.exec(
        select(Contact, Membership, Conversation)
        .join(Membership, col(Membership.contact_id) == col(Contact.id))
        .outerjoin(
            Conversation,
            (col(Conversation.contact_id) == col(Contact.id))
            & (col(Conversation.household_id) == col(Membership.household_id)),
        )
        .where(Membership.household_id == household_id, col(Membership.ended_at).is_(None))
        .order_by(col(Contact.last_heard_at).desc())
    )
    return tuple(Person(*row) for row in rows)


def can_be_texted(person: Person) -> bool:
    """Whoever said stop hears nothing more, from nobody here."""
    return person.contact.opted_out_at is None and person.contact.kind == SenderKind.PHONE


def may_be_reached(person: Person) -> bool:
    """Agreed to texts, did not stop them, and the number takes them."""
    contact = person.contact
    return can_be_texted(person) and contact.consented_at is not None and contact.undeliverable is None


def may_be_told(person: Person) -> bool:
    """... and is of the house, not somebody who only helps."""
    return may_be_reached(person) and person.membership.role not in THIRD_PARTIES


def speaker_of(people: Sequence[Person]) -> Person:
    """The phone through which reminders go: a resident who may be written to, if there is one."""
    return min(people, key=lambda each: (not may_be_told(each), each.contact.opted_out_at is not None))
