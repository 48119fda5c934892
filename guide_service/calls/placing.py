"""Calls that we make: to those who chose calls, at the hours of reminders, with a key that stops them.

Whoever picks up, a person, a child or a machine, hears who calls and nothing of the house; a key (or a word) must be
given before anything is told. So no machine needs to be recognised, and nobody waits in silence while one is looked
for. What is told then is the conversation's open question, as with any call.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, replace

from sqlmodel import Session, col, select

from guide_service.calls import script as scripts
from guide_service.calls.prompt import stored, utterance
from guide_service.calls.script import Script, unspeakable
from guide_service.database import reading
from guide_service.notices.words import spoken
from guide_service.records import Call, Contact, Message, Notice, NoticeRecipient
from guide_service.wiring import Service
from guide_service.wording.recorded import recorded_parts
from guide_service.wording.voice import Piece, piece

BY_CALL = "call"
TRY_AGAIN_AFTER = dt.timedelta(hours=2)
MOST_RINGS = 2
"""So often a phone is rung for one occasion; then the household's nudges go on. Our choice."""


def prepare(session: Session, service: Service, message: Message, contact: Contact) -> int:
    """The row of the call that brings this message, written before the carrier is asked; its id."""
    script = Script(service, contact.language)
    opening = script.opening()
    if unspeakable(service, opening.ask, recorded_parts(service.locales, contact.language)) is not None:
        opening = scripts.no_voice(service, contact.language, by_text=True)
    said = replace(utterance(opening), step=0)
    row = Call(
        direction="out",
        contact_id=contact.id,
        trusted=True,
        message_id=message.id,
        held={"prompt": stored(opening)},
        said=asdict(said),
        status="queued",
        started_at=service.clock.now(),
    )
    session.add(row)
    session.flush()
    return row.id


def brought(service: Service, message_id: int | None, script: Script) -> tuple[Piece, ...]:
    """What an agent wrote, to this house or to many, before the conversation goes on; nothing for a reminder, which is
    its open question."""
    if message_id is None:
        return ()
    with reading(service.engine) as session:
        message = session.get(Message, message_id)
        if message is None or not message.body:
            return ()
        if message.origin == "many":
            return _of_notice(session, service, message, script)
        return (script.say("call.agent_says", words=message.body),) if message.origin == "agent" else ()


def _of_notice(session: Session, service: Service, message: Message, script: Script) -> tuple[Piece, ...]:
    """From the notice itself, so that a ready-made text is said by its recordings where it has them."""
    mine = (NoticeRecipient.message_id == message.id, NoticeRecipient.notice_id == Notice.id)
    notice = session.exec(select(Notice).where(*mine)).first()
    if notice is None:
        return ()
    return (piece(spoken(service, notice.phrase, notice.own, message.language), script.language, service.catalogues),)


def rung(session: Session, message_id: int) -> bool:
    """Whether a call that brings this message has reached the carrier for certain, since its webhook was here."""
    mine = (Call.message_id == message_id, col(Call.call_sid).is_not(None))
    return session.exec(select(Call.id).where(*mine)).first() is not None
