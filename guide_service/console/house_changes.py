"""What an agent decides about a house: mould lifted, readings confirmed, a treated plate accepted, new water."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from fastapi import HTTPException
from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service.console.audit import note
from guide_service.console.escalations import settle
from guide_service.console.scope import areas_of, in_scope
from guide_service.console.sign_in import SignedIn
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.records import Escalation, Household, Loan, Message, MouldReport, PlaceRow, ReadingRow
from guide_service.wiring import Service

_NEXT = {"version": Household.version + 1}
"""With every change of what verdicts rest on, the household's version moves first: a turn that was decided on the old
state is decided again (``turning.keeping``)."""
OfHousehold = TypeVar("OfHousehold", MouldReport, PlaceRow, Message, Loan)


def of_household_in_scope(
    session: Session, service: Service, who: SignedIn, table: type[OfHousehold], key: int
) -> OfHousehold:
    """A row of a household's file by its id; 404 when there is none for this agent."""
    found = session.exec(
        select(table)
        .join(Household, col(Household.id) == col(table.household_id))
        .where(table.id == key, in_scope(who.agent, service.county))
    ).first()
    if found is None:
        raise HTTPException(404)
    return found


def lift_mould(session: Session, service: Service, who: SignedIn, report: MouldReport, why: str = "") -> None:
    """Lifts one report; with the last one the house is free of it, and what waits because of it is settled."""
    if report.lifted_at:
        return
    _move_version(session, report.household_id)
    report.lifted_at, report.lifted_by, report.lifted_why = service.clock.now(), who.agent.id, why
    session.add(report)
    session.flush()
    note(session, service, who, "lift_mould", report.household_id, report=report.id)
    still_open = select(MouldReport.id).where(
        MouldReport.household_id == report.household_id, col(MouldReport.lifted_at).is_(None)
    )
    if session.exec(still_open).first() is None:
        _nothing_open(session, service, who, report.household_id)


def lift_routine(session: Session, service: Service, who: SignedIn, households: Sequence[int], why: str) -> list[int]:
    """Lifts the reports of those households whose only wait is a routine one that nobody has claimed; which."""
    routine = select(Escalation.household_id).join(Household, col(Household.id) == col(Escalation.household_id)).where(
        in_scope(who.agent, service.county),
        col(Escalation.household_id).in_(households),
        Escalation.reason == EscalationReason.MOULD.value,
        Escalation.urgency == Urgency.ROUTINE,
        Escalation.state == "waiting",
    )  # fmt: skip
    homes = session.exec(routine.with_for_update(of=Escalation)).all()
    reports = select(MouldReport).where(col(MouldReport.household_id).in_(homes), col(MouldReport.lifted_at).is_(None))
    for report in session.exec(reports).all():
        lift_mould(session, service, who, report, why)
    return list(homes)


def confirm_readings(session: Session, service: Service, who: SignedIn, household_id: int) -> None:
    """Readings of a third party count from now on."""
    _move_version(session, household_id)
    result = session.connection().execute(
        update(ReadingRow)
        .where(
            col(ReadingRow.household_id) == household_id,
            col(ReadingRow.confirmed).is_(False),
            col(ReadingRow.superseded_at).is_(None),
        )
        .values(confirmed=True)
    )
    note(session, service, who, "confirm_readings", household_id, readings=result.rowcount)


def confirm_treated(session: Session, service: Service, who: SignedIn, place: PlaceRow) -> None:
    """The plate has gone flat at the level of a treated one that stayed dry: the stud above decides from now on."""
    _move_version(session, place.household_id)
    place.treated_confirmed = True
    session.add(place)
    note(session, service, who, "confirm_treated", place.household_id, place=place.label)


def declare_flooded_again(session: Session, service: Service, who: SignedIn, area: str) -> None:
    """New water in an area: in every house of it, what was read before today no longer makes a wall ready."""
    if area not in {each.id for each in areas_of(who.agent, service.county)}:
        raise HTTPException(404)
    now = service.clock.now()
    result = session.connection().execute(
        update(Household)
        .where(col(Household.area) == area)
        .values(
            flooded_again_on=now.astimezone(service.county.zone(area)).date(),
            ready_walls=0,
            dry_on=None,
            dry_by=None,
            updated_at=now,
            **_NEXT,
        )
    )
    note(session, service, who, "flooded_again", None, area=area, households=result.rowcount)


def _move_version(session: Session, household_id: int) -> None:
    session.connection().execute(update(Household).where(col(Household.id) == household_id).values(**_NEXT))


def _nothing_open(session: Session, service: Service, who: SignedIn, household_id: int) -> None:
    session.connection().execute(update(Household).where(col(Household.id) == household_id).values(mould_open=False))
    waiting = select(Escalation).where(
        Escalation.household_id == household_id,
        Escalation.reason == EscalationReason.MOULD.value,
        Escalation.state != "settled",
    )
    for escalation in session.exec(waiting).all():
        settle(session, service, who, escalation, "mould_lifted")
