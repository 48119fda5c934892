"""What agents enter into a file: decided on what was looked up, stored in one transaction, told in each one's language.

As in a turn, nothing is computed while the database is locked, and if the file changed meanwhile it is decided again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from fastapi import HTTPException
from sqlalchemy import update
from sqlmodel import Session, col

from guide_service.console.audit import note
from guide_service.console.household_file import household_in_scope
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading, writing
from guide_service.dialogue.by_agent import Entered, no_longer
from guide_service.dialogue.saying import Say
from guide_service.jobs import cancel
from guide_service.outbox import cancel_texts
from guide_service.records import Household
from guide_service.turn import MOST_TRIES
from guide_service.turning import entered
from guide_service.turning.entered import Looked
from guide_service.turning.keeping import Moved, keep_by_agent
from guide_service.turning.people import Person, may_be_told, people_of
from guide_service.wiring import Service


def look(service: Service, who: SignedIn, household_id: int) -> Looked:
    """404 for another office's; 409 for a file without a phone, which nothing can be entered into."""
    with reading(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, household_id)
        people = people_of(session, home.id)
        if not people:
            raise HTTPException(409)
        return entered.look(session, service, home, people)


def enter(
    service: Service,
    who: SignedIn,
    household_id: int,
    decide: Callable[[Looked], Entered],
    action: str,
    *,
    for_reminders: bool = False,
    **detail: Any,
) -> Entered:
    """Stores what ``decide`` makes of the file, tells the household, writes the audit row. Unclear: nothing happens.

    ``for_reminders``: what the household is being reminded of is done herewith."""
    for _ in range(MOST_TRIES):
        looked = look(service, who, household_id)
        given = decide(looked)
        if given.unclear:
            return given
        try:
            with writing(service.engine) as session:
                household_in_scope(session, service.county, who.agent, household_id)
                keep_by_agent(session, service, looked.known, given.effects, who.agent.id)
                if for_reminders:
                    _end_reminders(session, household_id)
                _tell(session, service, who, looked, given)
                note(session, service, who, action, household_id, **detail)
            return given
        except Moved:
            continue
    raise HTTPException(409)


def _end_reminders(session: Session, household_id: int) -> None:
    """Nobody is nudged any more, and a reminder that still waits to be sent is taken back."""
    cancel(session, f"nudge:{household_id}")
    cancel_texts(session, f"started:{household_id}")
    session.connection().execute(update(Household).where(col(Household.id) == household_id).values(unanswered=0))


def _tell(session: Session, service: Service, who: SignedIn, looked: Looked, given: Entered) -> None:
    household_id = looked.known.who.household_id
    lapsed = entered.take_back_ready(session, service, looked, looked.ready, given.not_ready)
    says = [*given.says, *no_longer(looked.facts, lapsed)]
    for person in people_of(session, household_id) if given.says else ():
        if may_be_told(person):
            tell(session, service, who, household_id, person, says)


def tell(
    session: Session, service: Service, who: SignedIn, household_id: int, person: Person, says: Sequence[Say]
) -> None:
    entered.tell_for_agent(session, service, who.agent.id, household_id, person.contact, says)
