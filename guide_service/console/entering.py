"""What agents enter into a file: decided on what was looked up, stored in one transaction, told in each one's language.

As in a turn, nothing is computed while the database is locked, and if the file changed meanwhile it is decided again.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from fastapi import HTTPException
from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service.console.answering import can_be_texted
from guide_service.console.audit import note
from guide_service.console.household_file import Person, household_in_scope, people_of
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading, writing
from guide_service.dialogue.by_agent import Entered, no_longer
from guide_service.dialogue.facts import Facts
from guide_service.dialogue.saying import Say
from guide_service.jobs import cancel
from guide_service.outbox import cancel_texts, start_text
from guide_service.records import Household, ReadyAnswer, WallRow
from guide_service.records.loading import Known, load_of_both
from guide_service.turn import MOST_TRIES
from guide_service.turning.joining import THIRD_PARTIES
from guide_service.turning.keeping import Moved, keep_by_agent
from guide_service.turning.knowing import facts_of
from guide_service.wiring import Service
from guide_service.wording.sms import compose


@dataclass(frozen=True, slots=True)
class Looked:
    """A household as an agent's entry is decided on."""

    known: Known
    facts: Facts
    ready: tuple[ReadyAnswer, ...]
    """The latest answer about each wall, of those that have not lapsed."""


def look(service: Service, who: SignedIn, household_id: int) -> Looked:
    """404 for another office's; 409 for a file without a phone, which nothing can be entered into."""
    with reading(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, household_id)
        people = people_of(session, home.id)
        if not people:
            raise HTTPException(409)
        known = load_of_both(session.connection(), _speaker(people).contact.id, home.id)
        facts = facts_of(service, known, service.clock.now())
        query = select(ReadyAnswer).where(ReadyAnswer.household_id == home.id).order_by(col(ReadyAnswer.id))
        latest = {answer.wall_id: answer for answer in session.exec(query)}
    return Looked(known, facts, tuple(each for each in latest.values() if each.lapses_on >= facts.today))


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
        entered = decide(looked)
        if entered.unclear:
            return entered
        try:
            with writing(service.engine) as session:
                household_in_scope(session, service.county, who.agent, household_id)
                keep_by_agent(session, service, looked.known, entered.effects, who.agent.id)
                if for_reminders:
                    _end_reminders(session, household_id)
                _tell(session, service, who, looked, entered)
                note(session, service, who, action, household_id, **detail)
            return entered
        except Moved:
            continue
    raise HTTPException(409)


def _end_reminders(session: Session, household_id: int) -> None:
    """Nobody is nudged any more, and a reminder that still waits to be sent is taken back."""
    cancel(session, f"nudge:{household_id}")
    cancel_texts(session, f"started:{household_id}")
    session.connection().execute(update(Household).where(col(Household.id) == household_id).values(unanswered=0))


def _speaker(people: Sequence[Person]) -> Person:
    """The phone through which reminders go: a resident who consented and may be written to, if there is one."""
    return min(people, key=lambda each: (not _may_be_told(each), each.contact.opted_out_at is not None))


def _may_be_told(person: Person) -> bool:
    contact = person.contact
    reachable = can_be_texted(person) and contact.consented_at is not None and contact.undeliverable is None
    return reachable and person.membership.role not in THIRD_PARTIES


def _tell(session: Session, service: Service, who: SignedIn, looked: Looked, entered: Entered) -> None:
    household_id = looked.known.who.household_id
    says = [*entered.says, *no_longer(looked.facts, _lapsed(session, service, looked, entered))]
    for person in people_of(session, household_id) if entered.says else ():
        if _may_be_told(person):
            tell(session, service, who, household_id, person, says)


def tell(
    session: Session, service: Service, who: SignedIn, household_id: int, person: Person, says: Sequence[Say]
) -> None:
    start_text(
        session,
        service,
        contact=person.contact,
        household_id=household_id,
        texts=compose(says, person.contact.language, service.catalogues),
        origin="agent",
        send_at=None,
        key=None,
        agent_id=who.agent.id,
    )


def _lapsed(session: Session, service: Service, looked: Looked, entered: Entered) -> list[str]:
    """Letters of walls that were said to meet the limit and do not now: a newer answer takes that one's place."""
    letters = {wall.id: wall.letter for wall in session.exec(
        select(WallRow).where(WallRow.household_id == looked.known.who.household_id))}  # fmt: skip
    gone = [each for each in looked.ready if letters.get(each.wall_id) in entered.not_ready]
    for answer in gone:
        session.add(
            ReadyAnswer(
                household_id=answer.household_id,
                wall_id=answer.wall_id,
                covers=[],
                policy_version=looked.facts.policy.version,
                at=service.clock.now(),
                lapses_on=looked.facts.today - dt.timedelta(days=1),
            )
        )
    return [letters[each.wall_id] for each in gone]
