"""Another phone of a household that does not answer hears that we have not heard: nothing of what was measured.

Only a phone that agreed to texts and wrote lately: a number that was silent for long may be somebody else's by now, and
the text names the house.
"""

from __future__ import annotations

import datetime as dt

from sqlmodel import Session, col, select

from guide_service.dialogue.saying import Say
from guide_service.outbox import start_text
from guide_service.records import Contact, Household, Membership
from guide_service.records.loading import load_by_household
from guide_service.turning.naming import house_name
from guide_service.wiring import Service
from guide_service.wording.sms import compose

MOST_TOLD = 2
"""Phones told of one silence. Our choice."""


def tell_others(session: Session, service: Service, household_id: int) -> int:
    """How many phones were told besides the one that was reminded."""
    home, reminded = session.get(Household, household_id), load_by_household(session.connection(), household_id)
    if home is None or reminded is None:
        return 0
    others = _others(session, service, household_id, reminded.who.contact_id)
    args = {"office": service.county_facts.office_name, "house": house_name(service, home)}
    for contact in others:
        texts = compose([Say("silent.second", args)], contact.language, service.catalogues)
        start_text(
            session, service, contact=contact, household_id=household_id, texts=texts,
            origin="started", send_at=None, key=f"second:{household_id}:{contact.id}",
        )  # fmt: skip
    return len(others)


def _others(session: Session, service: Service, household_id: int, reminded: int) -> list[Contact]:
    lately = service.clock.now() - dt.timedelta(days=service.county.identity.silent_days)
    query = (
        select(Contact)
        .join(Membership, col(Membership.contact_id) == col(Contact.id))
        .where(
            Membership.household_id == household_id,
            col(Membership.ended_at).is_(None),
            Contact.id != reminded,
            col(Contact.consented_at).is_not(None),
            col(Contact.opted_out_at).is_(None),
            col(Contact.undeliverable).is_(None),
            col(Contact.last_heard_at) >= lately,
        )
        .order_by(col(Contact.last_heard_at).desc())
        .limit(MOST_TOLD)
    )
    return list(session.exec(query))
