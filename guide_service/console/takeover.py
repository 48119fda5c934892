"""An agent takes a conversation over and hands it back; between the two the guide keeps silent (danger and stop apart).

A take-over moves the household's version first, in the order of rows of a turn: one that was decided before it is
decided again, and the two never wait for each other in a circle.
"""

from __future__ import annotations

import datetime as dt

from fastapi import HTTPException
from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service.dialogue.saying import Say
from guide_service.jobs import cancel, enqueue
from guide_service.records import Contact, Conversation, Household
from guide_service.wiring import Service
from guide_service.wording.sms import SmsText, compose


def conversation_of(session: Session, household_id: int, conversation_id: int) -> Conversation:
    found = session.exec(
        select(Conversation).where(Conversation.id == conversation_id, Conversation.household_id == household_id)
    ).first()
    if found is None:
        raise HTTPException(404)
    return found


def take_over(session: Session, service: Service, conversation_id: int, agent_id: int) -> None:
    now = service.clock.now()
    session.flush()
    house = select(Conversation.household_id).where(col(Conversation.id) == conversation_id).scalar_subquery()
    session.connection().execute(
        update(Household).where(col(Household.id) == house).values(version=Household.version + 1)
    )
    _change(session, conversation_id, taken_over_by=agent_id, taken_over_at=now, agent_active_at=now)
    _expect_end(session, service, conversation_id, now)


def told_of_it(service: Service, contact: Contact) -> tuple[SmsText, ...]:
    """What somebody reads when the guide falls silent: that a person answers from now on."""
    county = service.county_facts
    say = Say("agent.has_it", {"office": county.office_name, "emergency": county.emergency_number})
    return compose([say], contact.language, service.catalogues)


def stay_active(session: Session, service: Service, conversation_id: int) -> None:
    """The agent did something: the time without activity starts anew."""
    now = service.clock.now()
    _change(session, conversation_id, agent_active_at=now)
    _expect_end(session, service, conversation_id, now)


def hand_back(session: Session, conversation_id: int) -> bool:
    """Back to the guide; whether it had been taken over."""
    was = _change(session, conversation_id, taken_over_by=None, taken_over_at=None, agent_active_at=None)
    cancel(session, take_over_key(conversation_id))
    return was


def idle_time(service: Service) -> dt.timedelta:
    return dt.timedelta(hours=service.county.hours.take_over_hours)


def take_over_key(conversation_id: int) -> str:
    return f"takeover:{conversation_id}"


def _expect_end(session: Session, service: Service, conversation_id: int, since: dt.datetime) -> None:
    enqueue(
        session,
        "take_over_end",
        key=take_over_key(conversation_id),
        payload={"conversation": conversation_id},
        run_at=since + idle_time(service),
        now=service.clock.now(),
    )


def _change(session: Session, conversation_id: int, **values: object) -> bool:
    session.flush()
    statement = update(Conversation).where(col(Conversation.id) == conversation_id)
    if values.get("taken_over_by", True) is None:
        statement = statement.where(col(Conversation.taken_over_by).is_not(None))
    return session.connection().execute(statement.values(**values)).rowcount == 1
