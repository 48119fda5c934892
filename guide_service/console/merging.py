"""One house that was begun twice: everything of the second file goes into the first, and nothing is thrown away.

Places of one label are one place. Where both have readings of one day, place and point that differ, nobody can tell by
himself which is true: it is refused until one of them is put right. Rows that would stand twice (a wall, a place, a
visit of the same day) stay with the second file, which lists leave out and whose page leads to the first.
"""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from typing import Any

from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service.console.audit import note
from guide_service.console.escalations import settle
from guide_service.console.sign_in import SignedIn
from guide_service.dialogue.saying import Say
from guide_service.jobs import cancel
from guide_service.outbox import cancel_texts
from guide_service.records import (
    Check,
    Contact,
    Conversation,
    Escalation,
    Household,
    HouseholdNote,
    Loan,
    Membership,
    Message,
    MouldReport,
    PlaceRow,
    ReadingRow,
    ReadyAnswer,
    Verdict,
    WallRow,
)
from guide_service.turning.entered import tell_for_agent
from guide_service.turning.joining import no_code
from guide_service.turning.naming import house_name
from guide_service.turning.people import may_be_told, people_of
from guide_service.wiring import Service

JOBS = ("check", "nudge", "look_back")


class MergeRefusal(StrEnum):
    UNKNOWN = "merge_unknown"
    DIFFERS = "merge_differs"


def merge(session: Session, service: Service, who: SignedIn, home: Household, second: Household) -> MergeRefusal | None:
    """Both rows are locked by moving their versions, the older id first, so that two merges never wait in a circle."""
    for key in sorted((home.id, second.id)):
        _set(session, Household, col(Household.id) == key, version=Household.version + 1)
    session.refresh(home)
    session.refresh(second)
    if second.merged_into or home.merged_into:
        return MergeRefusal.UNKNOWN
    if _differs(session, home.id, second.id):
        return MergeRefusal.DIFFERS
    _measured(session, service, home.id, second.id)
    _people(session, service, home.id, second.id)
    _needs(session, service, who, home.id, second.id)
    for table in (Message, MouldReport, HouseholdNote, Loan, Verdict):
        _move(session, table, home.id, second.id)
    _file(session, service, home, second)
    cancel(session, *(f"{kind}:{second.id}" for kind in JOBS))
    cancel_texts(session, f"started:{second.id}")
    _tell(session, service, who, home)
    note(session, service, who, "merge", home.id, second=second.id)
    note(session, service, who, "merged_into", second.id, first=home.id)
    return None


def _tell(session: Session, service: Service, who: SignedIn, home: Household) -> None:
    """Its residents hear whose file it is now: whoever does not know the house can say so. A phone that was silent for
    long hears nothing of a house before it has shown that it is its owner's."""
    session.flush()
    lately = service.clock.now() - dt.timedelta(days=service.county.identity.silent_days)
    say = Say("merged.told", {"office": service.county_facts.office_name, "house": house_name(service, home)})
    for person in people_of(session, home.id):
        heard = person.contact.last_heard_at
        if may_be_told(person) and heard is not None and heard >= lately:
            tell_for_agent(session, service, who.agent.id, home.id, person.contact, [say])


def _set(session: Session, table: Any, *conditions: Any, **values: Any) -> None:
    session.flush()
    session.connection().execute(update(table).where(*conditions).values(**values))


def _move(session: Session, table: Any, first: int, second: int, *conditions: Any) -> None:
    _set(session, table, col(table.household_id) == second, *conditions, household_id=first)


def _standing(session: Session, household_id: int) -> list[ReadingRow]:
    query = select(ReadingRow).where(ReadingRow.household_id == household_id, col(ReadingRow.superseded_at).is_(None))
    return list(session.exec(query))


def _what(row: ReadingRow) -> tuple[Any, ...]:
    return (row.taken_on, row.place, row.point)


def _says(row: ReadingRow) -> tuple[Any, ...]:
    return (row.value, row.qualifier, row.material, row.colour)


def _differs(session: Session, first: int, second: int) -> bool:
    here: dict[Any, set[Any]] = {}
    for row in _standing(session, first):
        here.setdefault(_what(row), set()).add(_says(row))
    return any(_what(row) in here and _says(row) not in here[_what(row)] for row in _standing(session, second))


def _measured(session: Session, service: Service, first: int, second: int) -> None:
    here = {_what(row) for row in _standing(session, first)}
    for row in _standing(session, second):
        if _what(row) in here:  # the same number in both files counts once
            row.superseded_at = service.clock.now()
            session.add(row)
    days = {visit.taken_on: visit.id for visit in session.exec(select(Check).where(Check.household_id == first))}
    for visit in session.exec(select(Check).where(Check.household_id == second)).all():
        if visit.taken_on in days:
            _set(session, ReadingRow, col(ReadingRow.check_id) == visit.id, check_id=days[visit.taken_on])
        else:
            _set(session, Check, col(Check.id) == visit.id, household_id=first)
    _move(session, ReadingRow, first, second)
    _walls(session, first, second)


def _walls(session: Session, first: int, second: int) -> None:
    letters = dict(session.exec(select(WallRow.letter, WallRow.id).where(WallRow.household_id == first)).all())
    labels = set(session.exec(select(PlaceRow.label).where(PlaceRow.household_id == first)).all())
    _move(session, PlaceRow, first, second, col(PlaceRow.label).not_in(labels))
    for wall in session.exec(select(WallRow).where(WallRow.household_id == second)).all():
        if wall.letter in letters:
            here = (col(PlaceRow.wall_id) == wall.id, col(PlaceRow.household_id) == first)
            _set(session, PlaceRow, *here, wall_id=letters[wall.letter])
            _set(session, ReadyAnswer, col(ReadyAnswer.wall_id) == wall.id, wall_id=letters[wall.letter])
        else:
            _set(session, WallRow, col(WallRow.id) == wall.id, household_id=first)
    _move(session, ReadyAnswer, first, second)


def _people(session: Session, service: Service, first: int, second: int) -> None:
    """A phone of both stays in the first as it is there; conversations follow."""
    query = select(Membership).where(Membership.household_id == first)
    here = {row.contact_id: row for row in session.exec(query)}
    for theirs in session.exec(select(Membership).where(Membership.household_id == second)).all():
        mine = here.get(theirs.contact_id)
        if mine is None:
            theirs.household_id = first
        elif theirs.ended_at is None:
            theirs.ended_at, mine.ended_at = service.clock.now(), None
            mine.name = mine.name or theirs.name
    _move(session, Conversation, first, second, col(Conversation.contact_id).not_in(
        select(Conversation.contact_id).where(Conversation.household_id == first)))  # fmt: skip
    _set(session, Contact, col(Contact.speaks_of) == second, speaks_of=first)


def _needs(session: Session, service: Service, who: SignedIn, first: int, second: int) -> None:
    """What waits in both for one reason waits once, as urgent as the more urgent of the two."""
    query = select(Escalation).where(Escalation.state != "settled")
    here = {row.reason: row for row in session.exec(query.where(Escalation.household_id == first)).all()}
    for theirs in session.exec(query.where(Escalation.household_id == second)).all():
        mine = here.get(theirs.reason)
        if mine is not None:
            mine.urgency, mine.times = min(mine.urgency, theirs.urgency), mine.times + theirs.times
            mine.words = mine.words or theirs.words
            settle(session, service, who, theirs, "merged")
    _move(session, Escalation, first, second)


def _file(session: Session, service: Service, home: Household, second: Household) -> None:
    """What the first does not know of itself it takes from the second; what holds a wall back holds in both."""
    home.address, home.area = home.address or second.address, home.area or second.area
    home.facts = {**second.facts, **home.facts}
    home.stage = second.stage if home.stage == "unknown" else home.stage
    home.mould_open = home.mould_open or second.mould_open
    floods = [day for day in (home.flooded_again_on, second.flooded_again_on) if day]
    home.flooded_again_on = max(floods, default=None)
    home.updated_at = second.updated_at = service.clock.now()
    second.merged_into, second.next_check_on = home.id, None
    for name, value in no_code().items():
        setattr(second, name, value)
    session.add_all((home, second))
    session.flush()
