"""A recall is made: readings and checks are marked at once, so that no turn counts them any more; jobs do the rest."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service import jobs
from guide_service.recalls.finding import Concerned, Wanted, concerned, slices
from guide_service.recalls.standing import RecalledMeters, meter_named
from guide_service.records import Check, Household, MeterRecall, ReadingRow, RecallHouse
from guide_service.wiring import Service

RECALL = "recall"
"""Kind of the job that hands each household to a job of its own."""


def make_recall(session: Session, service: Service, wanted: Wanted, reason: str, agent_id: int) -> MeterRecall:
    """The row, its marks, and the job that weighs every household anew when all processes know of the recall."""
    now = service.clock.now()
    home = session.get(Household, wanted.household_id) if wanted.household_id else None
    recall = MeterRecall(
        meter=(meter_named(home.facts) if home else wanted.meter)[:40] or None,
        household_id=wanted.household_id,
        unnamed=wanted.unnamed,
        first_day=wanted.first_day,
        last_day=wanted.last_day,
        reason=reason,
        made_by=agent_id,
        made_at=now,
    )
    session.add(recall)
    session.flush()
    mark(session, recall, concerned(session, wanted))
    known_everywhere = now + 2 * RecalledMeters.KEEP
    payload = {"recall": recall.id, "after": 0}
    jobs.enqueue(session, RECALL, key=f"{RECALL}:{recall.id}", payload=payload, run_at=known_everywhere, now=now)
    return recall


def mark(session: Session, recall: MeterRecall, found: Sequence[Concerned]) -> None:
    """Every household's version moves first: what was decided on its old readings is decided again."""
    there = set(session.exec(select(RecallHouse.household_id).where(RecallHouse.recall_id == recall.id)))
    for some in slices(found):
        homes = [each.household_id for each in some]
        session.connection().execute(
            update(Household).where(col(Household.id).in_(homes)).values(version=Household.version + 1)
        )
        for checks in slices([check for each in some for check in each.checks]):
            _mark_checks(session, recall.id, checks)
        session.add_all(
            RecallHouse(recall_id=recall.id, household_id=each.household_id, tie=each.tie, checks=len(each.checks))
            for each in some
            if each.household_id not in there
        )
        session.flush()
    recall.checks += sum(len(each.checks) for each in found)
    recall.households = len(there | {each.household_id for each in found})
    session.add(recall)
    session.flush()


def _mark_checks(session: Session, recall_id: int, checks: Sequence[int]) -> None:
    """All readings of a check, an agent's own among them: nobody wrote down whose meter each was read with."""
    marked = {"recall_id": recall_id}
    connection = session.connection()
    connection.execute(update(Check).where(col(Check.id).in_(checks)).values(**marked))
    unmarked = (col(ReadingRow.check_id).in_(checks), col(ReadingRow.recall_id).is_(None))
    connection.execute(update(ReadingRow).where(*unmarked).values(**marked))


def mark_late_ones(session: Session, recall: MeterRecall) -> None:
    """What came in while another process did not know of the recall yet."""
    mark(session, recall, concerned(session, Wanted.of(recall)))
    checks = session.exec(select(Check.id).where(Check.recall_id == recall.id)).all()
    for some in slices(checks):
        by_phone = (col(ReadingRow.agent_id).is_(None), col(ReadingRow.recall_id).is_(None))
        session.connection().execute(
            update(ReadingRow).where(col(ReadingRow.check_id).in_(some), *by_phone).values(recall_id=recall.id)
        )


def end_recall(session: Session, recall: MeterRecall, last_day: dt.date, agent_id: int) -> None:
    """The meter is in order again from the day after: what is measured with it then counts."""
    recall.last_day, recall.ended_by = last_day, agent_id
    session.add(recall)
    session.flush()
