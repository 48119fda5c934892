"""What is entered for a household, not texted by it: looked up as in a turn, and what follows for walls called ready.

The caller decides on ``Looked`` without a lock, then stores (``keeping.keep_by_agent``) under the household's version.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, select

from guide_service.dialogue.facts import Facts
from guide_service.dialogue.saying import Say
from guide_service.outbox import start_text
from guide_service.records import Contact, Household, ReadyAnswer, WallRow
from guide_service.records.houses import houses_of
from guide_service.records.loading import Known, load_of_both
from guide_service.turning.knowing import facts_of
from guide_service.turning.naming import house_name
from guide_service.turning.people import Person, speaker_of
from guide_service.wiring import Service
from guide_service.wording.sms import compose


@dataclass(frozen=True, slots=True)
class Looked:
    """A household as an entry is decided on."""

    known: Known
    facts: Facts
    ready: tuple[ReadyAnswer, ...]
    """The latest answer about each wall, of those that have not lapsed."""


def look(session: Session, service: Service, home: Household, people: Sequence[Person]) -> Looked:
    """Through the phone that reminders go to; there must be one."""
    known = load_of_both(session.connection(), speaker_of(people).contact.id, home.id)
    facts = facts_of(service, known, service.clock.now())
    query = select(ReadyAnswer).where(ReadyAnswer.household_id == home.id).order_by(col(ReadyAnswer.id))
    latest = {answer.wall_id: answer for answer in session.exec(query)}
    return Looked(known, facts, tuple(each for each in latest.values() if each.lapses_on >= facts.today))


def take_back_ready(
    session: Session, service: Service, looked: Looked, answers: Sequence[ReadyAnswer], not_ready: Collection[str]
) -> list[str]:
    """Letters of the walls of these answers that do not meet the limit now: a newer answer takes each one's place."""
    home = looked.known.who.household_id
    letters = {wall.id: wall.letter for wall in session.exec(select(WallRow).where(WallRow.household_id == home))}
    gone = [each for each in answers if letters.get(each.wall_id) in not_ready]
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


def tell_for_agent(
    session: Session,
    service: Service,
    agent_id: int,
    household_id: int,
    contact: Contact,
    says: Sequence[Say],
    *,
    send_at: dt.datetime | None = None,
) -> None:
    """In the phone's language, as a text of the county; to a phone of several houses it names the one."""
    of_phone = houses_of(session.connection(), contact.id)
    mine = [row for row in of_phone if row.id == household_id and len(of_phone) > 1]
    named = [Say("house.named", {"house": house_name(service, row)}) for row in mine]
    texts = compose([*named, *says], contact.language, service.catalogues)
    start_text(
        session, service, contact=contact, household_id=household_id, texts=texts, origin="agent", send_at=send_at,
        key=None, agent_id=agent_id,
    )  # fmt: skip
