"""The storing half of a turn: the household's version is claimed, then everything is written, in a fixed order of rows.

Order: household, conversation, messages, the effects. Every turn of a household begins with the same row, so that two
texts of one household never interleave and never wait for each other in a circle.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Table, bindparam, update
from sqlmodel import Session

from guide_service import jobs, outbox
from guide_service.carrier.form import InboundText
from guide_service.carrier.phone_numbers import Origin, SenderKind
from guide_service.dialogue.effects import Effect, StoreAssessment
from guide_service.dialogue.machine import Standing
from guide_service.records import Contact, Conversation, Household, Membership, Message
from guide_service.records.base import new_id
from guide_service.records.loading import Known
from guide_service.records.prepared import Claim, Insert, change
from guide_service.turning import storing
from guide_service.turning.deciding import Plan
from guide_service.turning.joining import leave_bare_house, make_member
from guide_service.turning.knowing import asked_as_stored
from guide_service.turning.writer import Writer
from guide_service.wiring import Service


class Moved(Exception):
    """Somebody changed the household's file since it was looked up: decide again."""


@dataclass(frozen=True, slots=True)
class Answer:
    message_id: int
    texts: tuple[tuple[int, str], ...]
    """(outbound row, body) of each text; none = silence."""
    repeated: bool = False
    """The answer of an earlier turn: this text had been handled."""


def _table(model: Any) -> Table:
    table: Table = model.__table__
    return table


_household, _conversation, _contact = _table(Household), _table(Conversation), _table(Contact)
_CLAIM = Claim(
    update(_household)
    .where(_household.c.id == bindparam("household"), _household.c.version == bindparam("seen"))
    .values(version=_household.c.version + 1, updated_at=bindparam("at", type_=_household.c.updated_at.type)),
    missed=Moved,
)
_MESSAGES = Insert(_table(Message), without=("agent_id", "error_code"))
_FIRST_ROWS = {model: Insert(_table(model)) for model in (Contact, Household, Membership, Conversation)}
SILENCE_KINDS = ("silence_due", "silence_end")
"""Jobs that look for a household which is only silent, not asked for numbers: any word ends them."""
HEARD_EVERY = dt.timedelta(hours=1)
"""``last_heard_at`` is kept to the hour: it decides about days."""


@dataclass(frozen=True, slots=True)
class Ids:
    contact: int
    household: int | None
    conversation: int | None


Also = Callable[[Connection, Ids, Plan], None]
"""What an edge stores of its own in the transaction of a turn."""


def keep_text(
    connection: Connection,
    service: Service,
    inbound: InboundText,
    origin: Origin,
    known: Known | None,
    plan: Plan,
    also: Also | None = None,
) -> Answer:
    """Store a text with its outcome and everything that follows from it. Raises ``Moved``, or ``IntegrityError`` when
    the text (or a first contact of the same phone) is there already."""
    now = service.clock.now()
    ids = _whose(connection, service, origin, known, plan, now)
    message_id = new_id()
    texts = () if plan.silence else tuple((new_id(), text) for text in plan.texts)
    call = inbound.call is not None
    replies = (_reply_row(row, text, ids, message_id, plan, now, call) for row, text in texts)
    _MESSAGES.run(connection, _inbound_row(message_id, ids, inbound, plan, now), *replies)
    if ids.household is not None:
        reached_by = inbound.call.reached_by if inbound.call is not None else None
        _carry_out(connection, service, ids, known, plan, message_id, inbound.body, now, reached_by)
    if also is not None:
        also(connection, ids, plan)
    return Answer(message_id, tuple((row, text.body) for row, text in texts))


def _whose(
    connection: Connection, service: Service, origin: Origin, known: Known | None, plan: Plan, now: dt.datetime
) -> Ids:
    """Contact, household and conversation that this text belongs to, made where they are not there yet."""
    if known is None:
        return _first_contact(connection, service, origin, plan, now)
    ids = _claimed(connection, known, now)
    if ids.contact is not None and (known.joining or ids.household is None):
        _number_known(connection, service, origin, ids.contact)
    if known.joining:
        assert ids.household is not None
        contact = ids.contact or _new_contact(connection, service, origin, plan, now)
        leave_bare_house(connection, known.came_from, now)
        talk = make_member(connection, contact, ids.household, service.flows.initial, now, by_code=True)
        return Ids(contact, ids.household, talk)
    if ids.household is None and origin.kind.answerable:
        return _new_house(connection, service, ids.contact, plan.language, now)
    return ids


def _number_known(connection: Connection, service: Service, origin: Origin, contact_id: int) -> None:
    """Of a phone whose file was deleted only the keyed hash stood, because of a STOP; it has come back."""
    sealed, key_id = service.sealer.seal(origin.address)
    number = {"phone_sealed": sealed, "key_id": key_id, "last_digits": origin.address[-4:]}
    change(connection, _contact, contact_id, number)


def keep_started(session: Session, service: Service, known: Known, plan: Plan) -> None:
    """Store what fell due: rows and jobs of what we start, and its effects."""
    now = service.clock.now()
    connection = session.connection()
    ids = _claimed(connection, known, now)
    contact = session.get(Contact, ids.contact)
    if plan.texts and contact is not None:
        key = f"started:{ids.household}"
        outbox.start_text(
            session,
            service,
            contact=contact,
            household_id=ids.household,
            texts=plan.texts,
            origin="started",
            send_at=None,
            key=key,
        )
        session.flush()
        if known.who.houses > 1:
            contact.speaks_of = ids.household  # what comes back is most likely said of this house
            session.flush()
        house = {"unanswered": Household.unanswered + 1}
        connection.execute(update(_household).where(_household.c.id == ids.household).values(**house))
    _carry_out(connection, service, ids, known, plan, None, "", now)


def keep_by_agent(session: Session, service: Service, known: Known, effects: tuple[Effect, ...], agent_id: int) -> None:
    """Store what somebody with an account entered, as a turn's effects are; the conversation stays where it stands.

    Its readings bear the account's id and no phone. Raises ``Moved``.
    """
    now, connection = service.clock.now(), session.connection()
    ids = _claimed(connection, known, now)
    assert ids.household is not None
    plan = Plan(None, effects=effects, language=known.who.language or "en")
    writer = _writer(connection, service, ids, known, plan, None, "", now)
    writer.agent_id = agent_id
    storing.apply(writer, effects)
    change(connection, _household, ids.household, writer.household)


def _claimed(connection: Connection, known: Known, now: dt.datetime) -> Ids:
    who = known.who
    if who.household_id is not None:
        seen = {"household": who.household_id, "seen": who.version, "at": now}
        _CLAIM.run(connection, seen)
    return Ids(who.contact_id, who.household_id, who.conversation_id)


def _first_contact(connection: Connection, service: Service, origin: Origin, plan: Plan, now: dt.datetime) -> Ids:
    """A phone that was never heard; two first texts at once meet the unique key of the phone, and one is decided again.

    A sender that cannot be answered gets no household."""
    contact = _new_contact(connection, service, origin, plan, now)
    if not origin.kind.answerable:
        return Ids(contact, None, None)
    return _new_house(connection, service, contact, plan.language, now)


def _new_contact(connection: Connection, service: Service, origin: Origin, plan: Plan, now: dt.datetime) -> int:
    sealed, key_id = service.sealer.seal(origin.address)
    contact = Contact(
        phone_key=service.sealer.phone_key(origin.address),
        phone_sealed=sealed,
        key_id=key_id,
        last_digits=origin.address[-4:] if origin.kind is not SenderKind.CALL else "",
        kind=str(origin.kind),
        language=plan.language,
        created_at=now,
        last_heard_at=now,
    )
    _FIRST_ROWS[Contact].run(connection, contact.model_dump())
    return contact.id


def _new_house(connection: Connection, service: Service, contact_id: int, language: str, now: dt.datetime) -> Ids:
    household = Household(created_at=now, updated_at=now, version=1, language=language)
    conversation = Conversation(
        contact_id=contact_id, household_id=household.id, state=service.flows.initial, updated_at=now
    )
    membership = Membership(contact_id=contact_id, household_id=household.id, joined_at=now)
    for row in (household, membership, conversation):
        _FIRST_ROWS[type(row)].run(connection, row.model_dump())
    return Ids(contact_id, household.id, conversation.id)


def _carry_out(
    connection: Connection,
    service: Service,
    ids: Ids,
    known: Known | None,
    plan: Plan,
    message_id: int | None,
    words: str,
    now: dt.datetime,
    reached_by: str | None = None,
) -> None:
    assert ids.household is not None
    assert ids.conversation is not None
    if plan.standing is not None:
        standing = _standing_row(service, plan.standing, now)
        change(connection, _conversation, ids.conversation, standing)
    writer = _writer(connection, service, ids, known, plan, message_id, words, now)
    writer.reached_by = reached_by
    storing.apply(writer, plan.effects)
    if message_id is not None:
        _heard(connection, known, writer, plan, now)
    change(connection, _household, ids.household, writer.household)
    change(connection, _contact, ids.contact, writer.contact)


def _standing_row(service: Service, standing: Standing, now: dt.datetime) -> Mapping[str, Any]:
    return {
        "state": standing.state,
        "slots": standing.slots,
        "asked": asked_as_stored(standing.asked),
        "flow_digest": service.flows.digest,
        "updated_at": now,
    }


def _heard(connection: Connection, known: Known | None, writer: Writer, plan: Plan, now: dt.datetime) -> None:
    """The household is not silent: nudges end; a number that was given up writes again."""
    if known is None:
        return
    who = known.who
    if who.unanswered:
        writer.household["unanswered"] = 0
    settled = who.nudged in SILENCE_KINDS or any(isinstance(effect, StoreAssessment) for effect in plan.effects)
    if who.nudged and (who.unanswered or settled):
        jobs.cancel(connection, f"nudge:{who.household_id}")
    if who.unanswered and settled:
        jobs.cancel(connection, f"started:{who.household_id}")  # a reminder that still waits to be sent
    if who.undeliverable:
        writer.contact["undeliverable"] = None
    if who.last_heard_at is not None and now - who.last_heard_at > writer.long_silence:
        writer.contact["returned_at"] = now
    if who.last_heard_at is None or now - who.last_heard_at > HEARD_EVERY:
        writer.contact["last_heard_at"] = now


def _writer(
    connection: Connection,
    service: Service,
    ids: Ids,
    known: Known | None,
    plan: Plan,
    message_id: int | None,
    words: str,
    now: dt.datetime,
) -> Writer:
    assert ids.household is not None
    assert ids.conversation is not None
    rows = known.places if known else ()
    return Writer(
        connection=connection,
        service=service,
        now=now,
        contact_id=ids.contact,
        household_id=ids.household,
        conversation_id=ids.conversation,
        message_id=message_id,
        language=plan.language,
        area=known.who.area if known else None,
        facts=dict(known.who.facts or {}) if known else {},
        visits={row.taken_on: row.visit_id for row in known.visits} if known else {},
        walls={row.letter: row.wall_id for row in rows},
        places={row.label: row.place_id for row in rows if row.label},
        words=words,
        consented=known is not None and known.who.consented_at is not None,
    )


def _inbound_row(message_id: int, ids: Ids, inbound: InboundText, plan: Plan, now: dt.datetime) -> Mapping[str, Any]:
    reason = "failure" if plan.failed else (str(plan.silence) if plan.silence else None)
    media = [{"url": url, "type": kind} for url, kind in inbound.media]
    return {
        "id": message_id,
        "contact_id": ids.contact,
        "household_id": ids.household,
        "direction": "in",
        "channel": "call" if inbound.call is not None else "sms",
        "origin": "person",
        "body": inbound.body,
        "language": plan.language,
        "at": now,
        "carrier_sid": inbound.sid,
        "outcome": "silence" if plan.silence else "reply",
        "outcome_reason": reason,
        "media": media or None,
        "understood": plan.understood or None,
        "segments": inbound.segments,
        "attempts": 0,
    }


def _reply_row(
    row: int, text: Any, ids: Ids, reply_to: int, plan: Plan, now: dt.datetime, call: bool
) -> Mapping[str, Any]:
    """What is answered to a text is one; what is answered on a call was said, and no report of it will come."""
    return {
        "id": row,
        "contact_id": ids.contact,
        "household_id": ids.household,
        "direction": "out",
        "channel": "call" if call else "sms",
        "origin": "reply",
        "body": text.body,
        "language": plan.language,
        "at": now,
        "reply_to": reply_to,
        "segments": 0 if call else text.segments,
        "encoding": None if call else str(text.encoding),
        "texts": list(text.message_ids),
        "status": "said" if call else "replied",
        "status_at": now,
        "attempts": 0,
    }
