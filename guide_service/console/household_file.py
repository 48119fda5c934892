"""All that is known of one household, read for its page."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from fastapi import HTTPException
from sqlmodel import Session, col, select

from guide_service.console.scope import in_scope
from guide_service.county import County
from guide_service.records import (
    Agent,
    Check,
    Escalation,
    Household,
    HouseholdNote,
    Loan,
    Message,
    MeterRecall,
    MouldReport,
    PlaceRow,
    ReadingRow,
    ReadyAnswer,
    Verdict,
    WallRow,
)
from guide_service.turning.people import Person, people_of

MESSAGES = 40
"""The newest ones; earlier ones on a page of their own address (``before``)."""
VISITS = 8
"""Newest checks shown as columns of the table; all readings stand in the list below it."""


@dataclass(frozen=True, slots=True)
class HouseholdFile:
    household: Household
    people: tuple[Person, ...]
    messages: tuple[Message, ...]
    earlier: bool
    """Whether there are messages before these."""
    escalations: tuple[Escalation, ...]
    walls: tuple[WallRow, ...]
    places: tuple[PlaceRow, ...]
    visits: tuple[Check, ...]
    readings: tuple[ReadingRow, ...]
    verdicts: dict[str, Verdict]
    """The latest of each place."""
    ready: dict[int, ReadyAnswer]
    """The latest of each wall that was said to meet the limit."""
    moulds: tuple[MouldReport, ...]
    loans: tuple[Loan, ...]
    """Meters of the county, those that are out first."""
    notes: tuple[HouseholdNote, ...]
    recalls: dict[int, MeterRecall]
    """Recalls of meters that its readings were taken with."""
    agents: dict[int, Agent]

    def places_of(self, wall: WallRow) -> list[PlaceRow]:
        return [place for place in self.places if place.wall_id == wall.id]

    def unconfirmed(self) -> list[ReadingRow]:
        return [each for each in self.readings if not each.confirmed and each.superseded_at is None]


def household_in_scope(session: Session, county: County, agent: Agent, household_id: int) -> Household:
    """The household, or 404 when it is not there for this agent."""
    found = session.exec(select(Household).where(Household.id == household_id, in_scope(agent, county))).first()
    if found is None:
        raise HTTPException(404)
    return found


def read_file(session: Session, household: Household, before: int | None = None) -> HouseholdFile:
    messages = _messages(session, household.id, before)
    return HouseholdFile(
        household=household,
        people=people_of(session, household.id),
        messages=tuple(reversed(messages[:MESSAGES])),
        earlier=len(messages) > MESSAGES,
        escalations=_escalations(session, household.id),
        walls=tuple(session.exec(select(WallRow).where(WallRow.household_id == household.id).order_by(WallRow.letter))),
        places=_places(session, household.id),
        visits=_visits(session, household.id),
        readings=_readings(session, household.id),
        verdicts=_latest_verdicts(session, household.id),
        ready=_ready(session, household.id),
        moulds=_moulds(session, household.id),
        loans=_loans(session, household.id),
        notes=_notes(session, household.id),
        recalls=_recalls(session, household.id),
        agents={agent.id: agent for agent in session.exec(select(Agent))},
    )


def _messages(session: Session, household_id: int, before: int | None) -> list[Message]:
    query = select(Message).where(Message.household_id == household_id)
    if before is not None:
        query = query.where(col(Message.id) < before)
    return list(session.exec(query.order_by(col(Message.id).desc()).limit(MESSAGES + 1)))


def _escalations(session: Session, household_id: int) -> tuple[Escalation, ...]:
    query = select(Escalation).where(Escalation.household_id == household_id)
    found = session.exec(query.order_by(col(Escalation.opened_at).desc())).all()
    return tuple(sorted(found, key=lambda each: each.state == "settled"))


def _places(session: Session, household_id: int) -> tuple[PlaceRow, ...]:
    found = session.exec(select(PlaceRow).where(PlaceRow.household_id == household_id)).all()
    return tuple(sorted(found, key=lambda place: (place.label[:1], len(place.label), place.label)))


def _visits(session: Session, household_id: int) -> tuple[Check, ...]:
    query = select(Check).where(Check.household_id == household_id)
    return tuple(session.exec(query.order_by(col(Check.taken_on), col(Check.id))))


def _readings(session: Session, household_id: int) -> tuple[ReadingRow, ...]:
    query = select(ReadingRow).where(ReadingRow.household_id == household_id)
    return tuple(session.exec(query.order_by(col(ReadingRow.taken_on), col(ReadingRow.id))))


def _latest_verdicts(session: Session, household_id: int) -> dict[str, Verdict]:
    query = select(Verdict).where(Verdict.household_id == household_id).order_by(col(Verdict.id))
    return {verdict.place: verdict for verdict in session.exec(query)}


def _ready(session: Session, household_id: int) -> dict[int, ReadyAnswer]:
    query = select(ReadyAnswer).where(ReadyAnswer.household_id == household_id).order_by(col(ReadyAnswer.id))
    return {answer.wall_id: answer for answer in session.exec(query)}


def _moulds(session: Session, household_id: int) -> tuple[MouldReport, ...]:
    query = select(MouldReport).where(MouldReport.household_id == household_id)
    return tuple(session.exec(query.order_by(col(MouldReport.reported_at).desc())))


def _loans(session: Session, household_id: int) -> tuple[Loan, ...]:
    found = session.exec(select(Loan).where(Loan.household_id == household_id).order_by(col(Loan.id).desc())).all()
    return tuple(sorted(found, key=lambda loan: loan.returned_on is not None))


def _notes(session: Session, household_id: int) -> tuple[HouseholdNote, ...]:
    query = select(HouseholdNote).where(HouseholdNote.household_id == household_id)
    return tuple(session.exec(query.order_by(col(HouseholdNote.at).desc(), col(HouseholdNote.id).desc())))


def _recalls(session: Session, household_id: int) -> dict[int, MeterRecall]:
    here = select(ReadingRow.recall_id).where(ReadingRow.household_id == household_id).distinct()
    found = session.exec(select(MeterRecall).where(col(MeterRecall.id).in_(here)).order_by(col(MeterRecall.id)))
    return {recall.id: recall for recall in found}


Cells = dict[tuple[str, int], list[ReadingRow]]


def cells(readings: tuple[ReadingRow, ...]) -> Cells:
    """The readings that count, by place and visit, in the order in which they were taken."""
    table: Cells = defaultdict(list)
    for reading in readings:
        if reading.superseded_at is None:
            table[reading.place, reading.check_id].append(reading)
    return table
