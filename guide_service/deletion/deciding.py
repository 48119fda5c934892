"""A request to delete is granted or refused, with a reason; the household is told, and can take a granted one back.

From the decision on there is a day before anything is removed, whenever the request was made: the text about the
decision reaches the phone's true owner, should somebody have asked in his or her name.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service import jobs
from guide_service.dialogue.effects import EscalationReason
from guide_service.dialogue.saying import Argument, Say
from guide_service.followup.escalations import alarm_key
from guide_service.outbox import zone_of
from guide_service.records import Audit, DeletionDecision, Escalation, Household
from guide_service.turning.entered import tell_for_agent
from guide_service.turning.naming import DELETION_ASKED, DELETION_DUE, TAKE_BACK
from guide_service.turning.people import may_be_told, people_of
from guide_service.wiring import Service

KIND = "deletion"


class Why(StrEnum):
    """What the household is told of the reason of a refusal."""

    RULES = "rules"
    NEED = "need"
    OTHERS = "others"
    UNPROVED = "unproved"


@dataclass(frozen=True, slots=True)
class Decided:
    """What a coordinator decided. ``keep_until``: readings and verdicts stay so long, with nothing personal."""

    granted: bool
    reason: str
    why: Why | None = None
    keep_until: dt.date | None = None


@dataclass(frozen=True, slots=True)
class Request:
    household: Household
    escalation: Escalation
    asked_at: dt.datetime
    decision: DeletionDecision | None
    """A granted one that waits to be carried out."""


def open_requests(session: Session, household_id: int | None = None) -> list[Request]:
    """The oldest first; of one household, or of all."""
    query = (
        select(Escalation, Household)
        .join(Household, col(Household.id) == col(Escalation.household_id))
        .where(Escalation.reason == str(EscalationReason.DELETION), Escalation.state != "settled")
        .order_by(col(Escalation.opened_at))
    )
    if household_id is not None:
        query = query.where(Escalation.household_id == household_id)
    return [
        Request(home, escalation, _asked_at(home, escalation), pending(session, home.id))
        for escalation, home in session.exec(query)
    ]


def _asked_at(home: Household, escalation: Escalation) -> dt.datetime:
    asked = home.facts.get(DELETION_ASKED)
    return dt.datetime.fromisoformat(asked) if isinstance(asked, str) else escalation.opened_at


def pending(session: Session, household_id: int) -> DeletionDecision | None:
    """The decision that is to be carried out and can still be taken back."""
    waits = (
        DeletionDecision.household_id == household_id,
        col(DeletionDecision.granted),
        col(DeletionDecision.carried_out_at).is_(None),
        col(DeletionDecision.withdrawn_at).is_(None),
    )
    return session.exec(select(DeletionDecision).where(*waits)).first()


def decide(session: Session, service: Service, agent_id: int, request: Request, decided: Decided) -> int:
    """How many phones were told. The caller holds the household's row; there is no decision on it yet."""
    home, now = request.household, service.clock.now()
    rule = service.county.records
    due = now + TAKE_BACK if decided.granted else None
    decision = DeletionDecision(
        household_id=home.id,
        asked_at=request.asked_at,
        granted=decided.granted,
        category=str(decided.why or ""),
        keep_until=decided.keep_until,
        reason=decided.reason,
        rule=" ".join(filter(None, (rule.rule, rule.source))),
        decided_by=agent_id,
        decided_at=now,
        carry_out_at=due,
    )
    session.add(decision)
    if due is not None:
        _set_facts(session, home, {**home.facts, DELETION_DUE: due.isoformat()})
        _escalation(session, request, state="claimed", claimed_by=agent_id, claimed_at=now)
        payload = {"household": home.id, "decision": decision.id}
        jobs.enqueue(session, KIND, key=job_key(home.id), payload=payload, run_at=due, now=now)
    else:
        _set_facts(session, home, {name: told for name, told in home.facts.items() if name != DELETION_ASKED})
        _escalation(session, request, state="settled", settled_by=agent_id, settled_at=now, outcome="decided")
    jobs.cancel(session, alarm_key(request.escalation.id))
    told = _tell(session, service, agent_id, home, _said(session, service, home, decision))
    detail = {"granted": str(decided.granted), "why": decision.category, "told": str(told)}
    session.add(Audit(at=now, agent_id=agent_id, household_id=home.id, action="decide_deletion", detail=detail))
    return told


def take_back(session: Session, service: Service, agent_id: int, request: Request, reason: str) -> int:
    """The household told a person that it wants to be kept: what KEEP does by text. How many phones were told."""
    home, now = request.household, service.clock.now()
    told_of_it = (DELETION_ASKED, DELETION_DUE)
    _set_facts(session, home, {name: told for name, told in home.facts.items() if name not in told_of_it})
    if request.decision is not None:
        request.decision.withdrawn_at = now
        session.add(request.decision)
        jobs.cancel(session, job_key(home.id))
    _escalation(session, request, state="settled", settled_by=agent_id, settled_at=now, outcome="taken_back")
    jobs.cancel(session, alarm_key(request.escalation.id))
    told = _tell(session, service, agent_id, home, Say("deletion.taken_back"))
    detail = {"reason": reason, "told": str(told)}
    session.add(Audit(at=now, agent_id=agent_id, household_id=home.id, action="deletion_taken_back", detail=detail))
    return told


def job_key(household_id: int) -> str:
    return f"{KIND}:{household_id}"


def _set_facts(session: Session, home: Household, facts: dict[str, Any]) -> None:
    home.facts = facts
    session.add(home)
    session.flush()


def _escalation(session: Session, request: Request, **values: object) -> None:
    session.connection().execute(update(Escalation).where(col(Escalation.id) == request.escalation.id).values(**values))


def _tell(session: Session, service: Service, agent_id: int, home: Household, say: Say) -> int:
    told = [person.contact for person in people_of(session, home.id) if may_be_told(person)]
    for contact in told:
        tell_for_agent(session, service, agent_id, home.id, contact, [say])
    return len(told)


def _said(session: Session, service: Service, home: Household, decision: DeletionDecision) -> Say:
    county = service.county_facts
    if decision.carry_out_at is None:
        why = Say(f"deletion.why.{decision.category}")
        return Say("deletion.refused", {"reason": why, "office": county.office_name, "callback": county.call_back})
    local = decision.carry_out_at.astimezone(zone_of(session, service, home.id))
    args: dict[str, Argument] = {"date": local.date(), "time": local.time().replace(second=0, microsecond=0)}
    if decision.keep_until is None:
        return Say("deletion.granted", args)
    return Say("deletion.granted_in_part", {**args, "until_date": decision.keep_until})


def decisions(session: Session, most: int) -> Sequence[DeletionDecision]:
    """The newest first."""
    return session.exec(select(DeletionDecision).order_by(col(DeletionDecision.id).desc()).limit(most)).all()
