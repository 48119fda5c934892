"""One turn: a text in, exactly one recorded outcome, in one transaction. The heart, readable on one screen.

    look up   rows of the phone, without a lock
    which     the house that the text is about, where the phone has several or the text holds a household code
    decide    understand, assess, advance: pure; nothing is computed while the database is locked
    store     one transaction: the household's version is claimed; when it moved meanwhile, the turn is decided again
    answer    the texts of the reply, which a retried webhook gets again

A text that cannot be decided or stored (a fault of ours) is stored all the same with a plain apology and an escalation.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError, IntegrityError
from sqlmodel import Session

from guide_service.carrier.form import InboundText
from guide_service.carrier.phone_numbers import Origin, origin_of, origin_of_call
from guide_service.database import reading, writing, writing_on
from guide_service.dialogue.events import Event, EventName
from guide_service.faults import describe
from guide_service.records.loading import Known, earlier_answer, is_buried, load_by_household, load_by_phone
from guide_service.turning.deciding import Plan, plan_apology, plan_started, plan_text
from guide_service.turning.houses import Meant, house_meant
from guide_service.turning.keeping import Also, Answer, Moved, keep_started, keep_text
from guide_service.wiring import Service

MOST_TRIES = 12
log = logging.getLogger(__name__)


class TurnNotTaken(Exception):
    """The household's file kept changing: the carrier sends the text again."""


def take_turn(service: Service, inbound: InboundText, also: Also | None = None) -> Answer:
    """Answer a text, or words and keys of a call. A retry gets the same answer and changes nothing.

    ``also`` is stored in the same transaction, once. Raises when nothing could be stored.
    """
    origin, sid_keys = _origin(inbound), service.sealer.sid_keys(inbound.sid)
    with service.engine.connect() as connection:
        for _ in range(MOST_TRIES):
            known = _known(connection, service, origin.address, sid_keys[0])
            if _buried(connection, sid_keys, known):
                return Answer(0, (), repeated=True)
            meant = house_meant(connection, service, inbound, known)
            plan = _decided(service, inbound, origin, meant)
            try:
                return _stored(connection, service, inbound, origin, meant.kept_under(plan.effects), plan, also)
            except Moved:
                continue
            except IntegrityError:
                earlier = _answered_before(connection, inbound.sid, sid_keys)
                if earlier is not None:
                    return earlier
    raise TurnNotTaken(inbound.sid)


def _origin(inbound: InboundText) -> Origin:
    if inbound.call is None:
        return origin_of(inbound.sender)
    return origin_of_call(inbound.sender, inbound.sid.rpartition("-")[0])


def _known(connection: Connection, service: Service, address: str, sid_key: str, *, again: bool = True) -> Known | None:
    """Under the key in use, or under an older secret's as long as the worker has not sealed the number anew."""
    found = (load_by_phone(connection, key, sid_key) for key in service.sealer.phone_keys(address))
    try:
        return next((known for known in found if known is not None), None)
    except DBAPIError as problem:
        if not (problem.connection_invalidated and again):
            raise
    return _known(
        connection, service, address, sid_key, again=False
    )  # the server was away, and this is a new connection


def _buried(connection: Connection, sid_keys: Sequence[str], known: Known | None) -> bool:
    """A text whose row retention or a deletion has removed: sent once more it recreates nothing."""
    if known is None:
        return is_buried(connection, sid_keys)
    return bool(known.who.buried) or is_buried(connection, sid_keys[1:])  # under older secrets


def _decided(service: Service, inbound: InboundText, origin: Origin, meant: Meant) -> Plan:
    try:
        return plan_text(service, inbound, origin, meant)
    except Exception as problem:
        log.error("a turn could not be decided: %s", describe(problem))
        return plan_apology(service, meant.before)


def _stored(
    connection: Connection,
    service: Service,
    inbound: InboundText,
    origin: Origin,
    known: Known | None,
    plan: Plan,
    also: Also | None,
) -> Answer:
    try:
        with writing_on(connection):
            return keep_text(connection, service, inbound, origin, known, plan, also)
    except (Moved, IntegrityError):
        raise
    except Exception as problem:
        log.error("a turn could not be stored: %s", describe(problem))
    with writing_on(connection):
        return keep_text(connection, service, inbound, origin, known, plan_apology(service, known), also)


def _answered_before(connection: Connection, sid: str, sid_keys: Sequence[str]) -> Answer | None:
    earlier = earlier_answer(connection, sid, sid_keys)
    return Answer(earlier.message_id, earlier.texts, repeated=True) if earlier else None


def clock_turn(
    service: Service,
    household_id: int,
    event: EventName | Event,
    settle: Callable[[Session], None] | None = None,
    load: Callable[[Connection, int], Known | None] = load_by_household,
) -> None:
    """Something fell due for a household: decided by the same machine, said through the outbox.

    ``settle`` runs in the same transaction, for the caller's own job.
    """
    due = event if isinstance(event, Event) else Event(event)
    for _ in range(MOST_TRIES):
        with reading(service.engine) as session:
            known = load(session.connection(), household_id)
        plan = plan_started(service, known, due) if known else None
        try:
            with writing(service.engine) as session:
                if known is not None and plan is not None:
                    keep_started(session, service, known, plan)
                if settle is not None:
                    settle(session)
            return
        except Moved:
            continue
    raise TurnNotTaken(str(due.name))
