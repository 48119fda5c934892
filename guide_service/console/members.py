"""What an agent decides about who belongs to a household: a phone that joined by code ended, the code ended."""

from __future__ import annotations

from fastapi import HTTPException
from sqlalchemy import update
from sqlmodel import Session, col

from guide_service.console.audit import note
from guide_service.console.sign_in import SignedIn
from guide_service.records import Household, Membership
from guide_service.turning.joining import no_code
from guide_service.wiring import Service


def end_membership(session: Session, service: Service, who: SignedIn, membership: Membership) -> None:
    """The phone hears nothing more of this household; 409 for the phone that began it, whose file this is."""
    if not membership.by_code and not membership.added_by:
        raise HTTPException(409)
    _move_version(session, membership.household_id)
    membership.ended_at = service.clock.now()
    session.add(membership)
    note(session, service, who, "end_membership", membership.household_id, contact=membership.contact_id)


def revoke_code(session: Session, service: Service, who: SignedIn, home: Household) -> None:
    """Opens nothing any more; a resident who asks for the code gets a new one."""
    _move_version(session, home.id, **no_code())
    note(session, service, who, "revoke_code", home.id)


def _move_version(session: Session, household_id: int, **values: object) -> None:
    """With every change the version moves, so that a turn decided before it is decided again."""
    moved = update(Household).where(col(Household.id) == household_id)
    session.connection().execute(moved.values(version=Household.version + 1, **values))
