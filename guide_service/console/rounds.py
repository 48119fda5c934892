"""Measuring rounds: houses assigned to a volunteer, and what he or she enters there.

A volunteer sees the address and the places of an assigned house between the first and the last day, and nothing else of
the household: no conversation, no number, no earlier reading.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import HTTPException
from sqlmodel import Session, col, select

from guide_service.console.audit import note
from guide_service.console.roles import Role
from guide_service.console.scope import in_scope, sees_everything
from guide_service.console.sign_in import SignedIn, may_enter
from guide_service.database import reading, writing
from guide_service.dialogue.events import Asked, Listening, ReadingHeard
from guide_service.dialogue.facts import Facts
from guide_service.drying.terms import Mode, Place, Point
from guide_service.records import Agent, Household, ReadingRow, RoundHouse
from guide_service.records.loading import Known, load_of_both
from guide_service.turn import MOST_TRIES, TurnNotTaken
from guide_service.turning.keeping import Moved, keep_by_agent
from guide_service.turning.knowing import facts_of, listening_of, standing_of
from guide_service.turning.people import people_of
from guide_service.turning.rounds import LANGUAGE, Doubt, Entry, hear, plan_visit, points_of
from guide_service.wiring import Service

LONGEST_DAYS = 60
"""An assignment that nobody ends does not stay open for good. Ours."""


@dataclass(frozen=True, slots=True)
class House:
    assigned: RoundHouse
    household: Household
    walls: tuple[tuple[str, tuple[Place, ...]], ...] = ()
    """Name of each wall with its places."""


# --- agents: who measures where -------------------------------------------------------------------------------------


def volunteers_for(session: Session, who: SignedIn) -> list[Agent]:
    """Those of the agent's own office; a coordinator may send anybody."""
    found = session.exec(select(Agent).where(Agent.role == Role.VOLUNTEER.value).order_by(col(Agent.name)))
    anybody = sees_everything(who.agent)
    return [each for each in found if may_enter(each) and (anybody or each.office == who.agent.office)]


def assigned_to(session: Session, household_id: int, today: dt.date) -> list[tuple[RoundHouse, Agent]]:
    rows = session.exec(
        select(RoundHouse, Agent)
        .join(Agent, col(Agent.id) == col(RoundHouse.volunteer_id))
        .where(
            RoundHouse.household_id == household_id, col(RoundHouse.ended_at).is_(None), RoundHouse.last_day >= today
        )
        .order_by(col(RoundHouse.first_day))
    )
    return [(row, agent) for row, agent in rows]


def assign(
    session: Session, service: Service, who: SignedIn, home: Household, volunteer_id: int, first: dt.date, last: dt.date
) -> None:
    """404 for a volunteer whom this agent may not send, 422 for days that are none.

    Days that touch a round of the same volunteer in this house move it: nobody is sent twice.
    """
    volunteer = next((each for each in volunteers_for(session, who) if each.id == volunteer_id), None)
    if volunteer is None:
        raise HTTPException(404)
    if not (first <= last and last >= today_at(service, home) and (last - first).days <= LONGEST_DAYS):
        raise HTTPException(422)
    row = session.exec(
        select(RoundHouse).where(
            RoundHouse.household_id == home.id,
            RoundHouse.volunteer_id == volunteer.id,
            col(RoundHouse.ended_at).is_(None),
            RoundHouse.first_day <= last,
            RoundHouse.last_day >= first,
        )
    ).first()
    now, by = service.clock.now(), who.agent.id
    if row is None:
        row = RoundHouse(
            volunteer_id=volunteer.id, household_id=home.id, first_day=first, last_day=last,
            assigned_by=by, assigned_at=now,
        )  # fmt: skip
    row.first_day, row.last_day, row.assigned_by, row.assigned_at = first, last, by, now
    session.add(row)
    note(session, service, who, "assign_round", home.id, volunteer=volunteer.id, first=str(first), last=str(last))


def end(session: Session, service: Service, who: SignedIn, assigned_id: int) -> int:
    """The household whose assignment ended."""
    row = session.exec(
        select(RoundHouse)
        .join(Household, col(Household.id) == col(RoundHouse.household_id))
        .where(RoundHouse.id == assigned_id, in_scope(who.agent, service.county))
    ).first()
    if row is None:
        raise HTTPException(404)
    if row.ended_at is None:
        row.ended_at = service.clock.now()
        session.add(row)
        note(session, service, who, "end_round", row.household_id, volunteer=row.volunteer_id)
    return row.household_id


# --- volunteers: where they measure ---------------------------------------------------------------------------------


def today_at(service: Service, home: Household) -> dt.date:
    return service.clock.now().astimezone(service.county.zone(home.area)).date()


def own_round(session: Session, service: Service, who: SignedIn) -> list[House]:
    """The houses of today, in the order in which they were assigned."""
    rows = session.exec(
        select(RoundHouse, Household)
        .join(Household, col(Household.id) == col(RoundHouse.household_id))
        .where(RoundHouse.volunteer_id == who.agent.id, col(RoundHouse.ended_at).is_(None))
        .order_by(col(RoundHouse.assigned_at), col(RoundHouse.id))
    )
    houses = [House(row, home) for row, home in rows if _is_open(service, row, home)]
    return list({house.household.id: house for house in houses}.values())


def own_house(session: Session, service: Service, who: SignedIn, assigned_id: int) -> tuple[House, Known]:
    """A house of one's own round with all that a turn knows of it; 404 for any other."""
    found = session.exec(
        select(RoundHouse, Household)
        .join(Household, col(Household.id) == col(RoundHouse.household_id))
        .where(RoundHouse.id == assigned_id, RoundHouse.volunteer_id == who.agent.id)
    ).first()
    if found is None or not _is_open(service, *found):
        raise HTTPException(404)
    row, home = found
    known = _known(session, home.id)
    facts = facts_of(service, known, service.clock.now())
    names = {wall.id: wall.name for wall in facts.walls}
    walls = tuple((names[letter], _places(facts, letter)) for letter in sorted(names) if _places(facts, letter))
    return House(row, home, walls), known


def days_of(service: Service, house: House) -> tuple[dt.date, dt.date]:
    """The days on which a reading may have been taken."""
    return house.assigned.first_day, min(today_at(service, house.household), house.assigned.last_day)


def fields_of(house: House) -> list[tuple[str, Point]]:
    return [(place.label, point) for _, places in house.walls for place in places for point in points_of(place)]


def enter(
    service: Service, who: SignedIn, assigned_id: int, entries: Sequence[Entry], taken_on: dt.date, mode: Mode
) -> tuple[int, list[Doubt]]:
    """How many readings were stored, and what is to be asked again. One transaction, like a turn."""
    for _ in range(MOST_TRIES):
        with reading(service.engine) as session:
            _, known = own_house(session, service, who, assigned_id)
            own = _own_readings(session, who, known.who.household_id, taken_on)
        facts = facts_of(service, known, service.clock.now())
        places = listening_of(facts, standing_of(known, service.flows.initial, service.clock.now())).places
        listening = Listening(LANGUAGE, Asked(), places, facts.today)
        heard = hear(entries, listening, service.lexicons)
        fresh = [item for item in heard.items if not _is_there(item, own)]
        if not fresh:
            return len(heard.items), heard.doubts
        # what was confirmed is the household's or an agent's word too: it stands beside the new one
        replaced = {point: str(row.id) for point, row in own.items() if not row.confirmed}
        effects = plan_visit(facts, fresh, taken_on, mode, replaced)
        try:
            with writing(service.engine) as session:
                own_house(session, service, who, assigned_id)
                keep_by_agent(session, service, known, effects, who.agent.id)
                note(session, service, who, "round_readings", known.who.household_id, readings=len(fresh),
                     taken_on=str(taken_on))  # fmt: skip
            return len(heard.items), heard.doubts
        except Moved:
            continue
    raise TurnNotTaken("round")


def _is_open(service: Service, row: RoundHouse, home: Household) -> bool:
    return row.ended_at is None and row.first_day <= today_at(service, home) <= row.last_day


def _known(session: Session, household_id: int) -> Known:
    """Through a phone of the house; 409 when no phone belongs to it any more."""
    talking = [person for person in people_of(session, household_id) if person.conversation is not None]
    if not talking:
        raise HTTPException(409)
    return load_of_both(session.connection(), talking[0].contact.id, household_id)


def _places(facts: Facts, letter: str) -> tuple[Place, ...]:
    here = [place for place in facts.places if place.wall == letter]
    return tuple(sorted(here, key=lambda place: (len(place.label), place.label)))


def _own_readings(
    session: Session, who: SignedIn, household_id: int, taken_on: dt.date
) -> dict[tuple[str, Point], ReadingRow]:
    """What this volunteer entered for that day before: sent twice it is kept once, sent anew it is a correction."""
    rows = session.exec(
        select(ReadingRow).where(
            ReadingRow.household_id == household_id,
            ReadingRow.taken_on == taken_on,
            ReadingRow.agent_id == who.agent.id,
            col(ReadingRow.superseded_at).is_(None),
        )
    )
    return {(row.place, Point(row.point)): row for row in rows}


def _is_there(item: ReadingHeard, own: dict[tuple[str, Point], ReadingRow]) -> bool:
    assert item.place is not None
    assert item.place.label is not None
    assert item.point is not None
    row = own.get((item.place.label, item.point))
    return row is not None and (row.value, row.qualifier) == (item.value, str(item.qualifier))
