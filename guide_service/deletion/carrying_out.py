"""The day is over and nobody has taken it back: the file goes, as it was decided."""

from __future__ import annotations

from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service.deletion.removing import remove_file
from guide_service.followup.work import Work
from guide_service.records import Audit, DeletionDecision, Household
from guide_service.wiring import Service


def delete_file(work: Work) -> None:
    service = work.service
    with work.settling() as session:
        decision = session.get_one(DeletionDecision, work.number("decision"))
        home = held(session, decision.household_id)
        if home is None or decision.withdrawn_at is not None or decision.carried_out_at is not None:
            return
        decision.removed = remove_file(session, service, home, keep_readings=decision.keep_until is not None)
        decision.carried_out_at = service.clock.now()
        session.add(decision)
        _note(session, service, decision)


def held(session: Session, household_id: int) -> Household | None:
    """The household with its version moved: no turn that was decided on it is stored any more."""
    moved = update(Household).where(col(Household.id) == household_id).values(version=Household.version + 1)
    session.connection().execute(moved)
    found = session.get(Household, household_id)
    if found is not None:
        session.refresh(found)  # it may have been read before the row was held
    return found


def _note(session: Session, service: Service, decision: DeletionDecision) -> None:
    rows = {"rows": str(sum(decision.removed.values())), "kept": str(decision.keep_until or "")}
    session.add(
        Audit(
            at=service.clock.now(),
            agent_id=decision.decided_by,
            household_id=decision.household_id,
            action="file_deleted",
            detail=rows,
        )
    )


def delete_kept_readings(session: Session, service: Service) -> int:
    """What the county had kept of a deleted file, when its time is over; a file at a time."""
    today = service.clock.now().astimezone(service.county.zone(None)).date()
    over = (col(DeletionDecision.carried_out_at).is_not(None), col(DeletionDecision.keep_until) < today)
    query = select(DeletionDecision, Household).join(Household, col(Household.id) == col(DeletionDecision.household_id))
    found = session.exec(query.where(*over, col(Household.deleted_at).is_not(None)).limit(1)).first()
    if found is None:
        return 0
    decision, home = found
    gone = remove_file(session, service, home, keep_readings=False)
    decision.removed = {name: decision.removed.get(name, 0) + gone.get(name, 0) for name in {*decision.removed, *gone}}
    session.add(decision)
    _note(session, service, decision)
    return sum(gone.values())
