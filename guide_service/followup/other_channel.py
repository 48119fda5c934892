"""A phone that chose calls and answers none is texted once, if its owner has agreed to texts as well.

The other way round there is nothing to try: calls are chosen by a question of their own, and a phone that is texted
has not chosen them, or has ended them. Agreed to calls is not agreed to texts: the ledger of consent says what was
shown before each answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from sqlmodel import Session, col, select

from guide_service.dialogue.saying import Say
from guide_service.outbox import start_text
from guide_service.records import ConsentEvent, Contact
from guide_service.records.loading import load_agreed
from guide_service.wiring import Service
from guide_service.wording.sms import compose

ASKED_ABOUT_TEXTS = "welcome.intro"
"""What is shown before the question whether we may text."""


def agreed_to_texts(ledger: Iterable[ConsentEvent], shown: Callable[[str], str]) -> bool:
    """From the ledger in the order written. ``shown``: language to what is shown before texts are asked about.

    A stop, or a no, takes back all before it; START by text is an answer to a phone that was texted.
    """
    agreed, about_texts = False, False
    for event in ledger:
        if event.kind == "shown":
            about_texts = event.words == shown(event.language)
        elif event.kind in ("stop", "refused"):
            agreed = False
        elif event.source == "sms":
            agreed = agreed or about_texts or event.kind == "start"
    return agreed


def try_other_channel(session: Session, service: Service, household_id: int) -> int:
    """1 if the phone that was rung is now texted, else 0."""
    known = load_agreed(session.connection(), household_id)
    contact = session.get(Contact, known.who.contact_id) if known else None
    if contact is None or contact.channel != "call" or not _agreed(session, service, contact):
        return 0
    says = [Say("silent.by_text", {"office": service.county_facts.office_name})]
    start_text(
        session, service, contact=contact, household_id=household_id,
        texts=compose(says, contact.language, service.catalogues),
        origin="started", send_at=None, key=f"other:{household_id}", by="sms",
    )  # fmt: skip
    return 1


def _agreed(session: Session, service: Service, contact: Contact) -> bool:
    mine = select(ConsentEvent).where(ConsentEvent.phone_key == contact.phone_key).order_by(col(ConsentEvent.id))
    texts = service.catalogues
    return agreed_to_texts(session.exec(mine).all(), lambda language: texts.text(language, ASKED_ABOUT_TEXTS))
