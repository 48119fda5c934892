"""The other channel of a phone that does not answer: a call to one that is texted, a text to one that is called.

Only where its owner has agreed to that channel too, and has not taken it back since: the ledger of consent says so.
"""

from __future__ import annotations

from collections.abc import Iterable

from sqlmodel import Session, col, select

from guide_service.dialogue.saying import Say
from guide_service.outbox import start_text
from guide_service.records import ConsentEvent, Contact
from guide_service.records.loading import load_agreed
from guide_service.wiring import Service
from guide_service.wording.sms import compose

OTHER = {"sms": "call", "call": "sms"}
SAID = {"sms": "silent.by_text", "call": "silence.again"}
"""A call says the open question of the conversation, as every call does; what stands here is how agents see the row."""


def agreed_channels(ledger: Iterable[tuple[str, str]]) -> frozenset[str]:
    """Channels that the owner agreed to, from (kind, source) as written; a stop or a no ends all before it."""
    agreed: set[str] = set()
    for kind, source in ledger:
        if kind in ("stop", "refused"):
            agreed.clear()
        elif kind in ("given", "start"):
            agreed.add(source)
    return frozenset(agreed)


def try_other_channel(session: Session, service: Service, household_id: int) -> int:
    """1 if the phone that was nudged is now tried by its other channel, else 0."""
    known = load_agreed(session.connection(), household_id)
    contact = session.get(Contact, known.who.contact_id) if known else None
    if contact is None or OTHER[contact.channel] not in _agreed(session, contact):
        return 0
    other = OTHER[contact.channel]
    args = {"office": service.county_facts.office_name}
    start_text(
        session, service, contact=contact, household_id=household_id,
        texts=compose([Say(SAID[other], args)], contact.language, service.catalogues),
        origin="started", send_at=None, key=f"other:{household_id}", by=other,
    )  # fmt: skip
    return 1


def _agreed(session: Session, contact: Contact) -> frozenset[str]:
    mine = select(ConsentEvent.kind, ConsentEvent.source).where(ConsentEvent.phone_key == contact.phone_key)
    return agreed_channels(session.exec(mine.order_by(col(ConsentEvent.id))).all())
