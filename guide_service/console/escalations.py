"""Claim, release, settle. Each is one conditional update, so that of two agents at one instant only one succeeds."""

from __future__ import annotations

from collections.abc import Sequence

from fastapi import HTTPException
from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service.console.audit import note
from guide_service.console.scope import in_scope
from guide_service.console.sign_in import SignedIn
from guide_service.dialogue.effects import EscalationReason
from guide_service.dialogue.saying import Say
from guide_service.followup.escalations import alarm_key, set_alarm
from guide_service.jobs import cancel
from guide_service.outbox import start_text
from guide_service.records import Contact, Escalation, Household
from guide_service.wiring import Service
from guide_service.wording.sms import compose

TOLD_WHEN_CLAIMED = frozenset({EscalationReason.DANGER, EscalationReason.PERSON})
"""These people wait for someone: they are told, once, that a person has seen it, and never before it is true."""


def escalation_in_scope(session: Session, service: Service, who: SignedIn, escalation_id: int) -> Escalation:
    found = session.exec(
        select(Escalation)
        .join(Household, col(Household.id) == col(Escalation.household_id))
        .where(Escalation.id == escalation_id, in_scope(who.agent, service.county))
    ).first()
    if found is None:
        raise HTTPException(404)
    return found


def claim(session: Session, service: Service, who: SignedIn, escalation: Escalation, *, tell: bool = True) -> bool:
    """Whether it was still free. ``tell``: say so to the person who waits for someone."""
    changed = _change(session, escalation, ("waiting",), state="claimed", claimed_by=who.agent.id,
                      claimed_at=service.clock.now())  # fmt: skip
    if changed:
        cancel(session, alarm_key(escalation.id))
        note(session, service, who, "claim", escalation.household_id, escalation=escalation.id)
        if tell:
            _tell_once(session, service, who, escalation)
    return changed


def claim_all(session: Session, service: Service, who: SignedIn, household_id: int) -> None:
    """Whoever answers has taken it on; the answer itself tells the person."""
    waiting = select(Escalation).where(Escalation.household_id == household_id, Escalation.state == "waiting")
    for escalation in session.exec(waiting).all():
        claim(session, service, who, escalation, tell=False)


def release(session: Session, service: Service, who: SignedIn, escalation: Escalation) -> bool:
    changed = _change(session, escalation, ("claimed",), state="waiting", claimed_by=None, claimed_at=None)
    if changed:
        set_alarm(session, service.county, escalation.id, escalation.urgency, service.clock.now())
        note(session, service, who, "release", escalation.household_id, escalation=escalation.id)
    return changed


def settle(session: Session, service: Service, who: SignedIn, escalation: Escalation, outcome: str) -> bool:
    changed = _change(session, escalation, ("waiting", "claimed"), state="settled", settled_by=who.agent.id,
                      settled_at=service.clock.now(), outcome=outcome)  # fmt: skip
    if changed:
        cancel(session, alarm_key(escalation.id))
        note(session, service, who, "settle", escalation.household_id, escalation=escalation.id, outcome=outcome)
    return changed


def settle_all(
    session: Session, service: Service, who: SignedIn, households: Sequence[int], reason: EscalationReason, outcome: str
) -> None:
    """What these households wait for under one reason has come about."""
    mine = (col(Escalation.household_id).in_(households), Escalation.reason == reason.value)
    for waiting in session.exec(select(Escalation).where(*mine, Escalation.state != "settled")).all():
        settle(session, service, who, waiting, outcome)


def _change(session: Session, escalation: Escalation, states: tuple[str, ...], **values: object) -> bool:
    statement = (
        update(Escalation)
        .where(col(Escalation.id) == escalation.id, col(Escalation.state).in_(states))
        .values(**values)
    )
    changed = session.connection().execute(statement).rowcount == 1
    session.refresh(escalation)
    return changed


def _tell_once(session: Session, service: Service, who: SignedIn, escalation: Escalation) -> None:
    if escalation.reason not in TOLD_WHEN_CLAIMED or escalation.detail.get("told"):
        return
    contact = session.get(Contact, escalation.contact_id) if escalation.contact_id else None
    if contact is None or contact.opted_out_at:
        return
    county = service.county
    say = Say("agent.claimed", {"office": county.office_name, "emergency": county.emergency_number})
    start_text(
        session,
        service,
        contact=contact,
        household_id=escalation.household_id,
        texts=compose([say], contact.language, service.catalogues),
        origin="agent",
        send_at=None,
        key=None,
        agent_id=who.agent.id,
    )
    escalation.detail = {**escalation.detail, "told": True}
    session.add(escalation)
