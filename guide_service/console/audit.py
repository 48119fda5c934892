"""Every look into a household's file and every change of it leaves a row. Never a number and never a text."""

from __future__ import annotations

from sqlmodel import Session

from guide_service.console.sign_in import SignedIn
from guide_service.records import Audit
from guide_service.wiring import Service


def note(
    session: Session, service: Service, who: SignedIn, action: str, household_id: int | None, **detail: object
) -> None:
    session.add(
        Audit(
            at=service.clock.now(),
            agent_id=who.agent.id,
            household_id=household_id,
            action=action,
            detail={name: str(value) if isinstance(value, int) else value for name, value in detail.items()},
        )
    )
