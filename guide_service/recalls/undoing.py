"""A recall that was made by mistake is taken back: its numbers count as they did before, and everybody told hears so.

The readings and checks lose their mark in the transaction of the decision, each household's version moves, and one job
for each household that had been told weighs it anew and tells it. What was said meanwhile stays in the file: verdicts
are rows with their policy version, and the recall's own row keeps who made it, who took it back, and why.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service import jobs
from guide_service.database import reading, writing
from guide_service.dialogue.by_agent import weighed
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.dialogue.saying import Say
from guide_service.followup.escalations import raise_escalation
from guide_service.followup.quiet_hours import next_allowed
from guide_service.followup.work import Work
from guide_service.outbox import zone_of
from guide_service.recalls.finding import Wanted, concerned, slices
from guide_service.recalls.marking import RECALL, mark
from guide_service.recalls.standing import RecalledMeters
from guide_service.recalls.weighing import house_key
from guide_service.records import (
    Audit,
    Check,
    Household,
    MeterRecall,
    ReadingRow,
    ReadyAnswer,
    RecallHouse,
    Verdict,
)
from guide_service.turn import MOST_TRIES, TurnNotTaken
from guide_service.turning.entered import look, take_back_ready, tell_for_agent
from guide_service.turning.keeping import Moved, keep_by_agent
from guide_service.turning.people import may_be_reached, people_of
from guide_service.wiring import Service

UNDONE = "recall_undone"
_MARKED: tuple[Any, ...] = (ReadingRow, Check, Verdict, ReadyAnswer)


def undo_recall(session: Session, service: Service, recall: MeterRecall, why: str, agent_id: int) -> list[int]:
    """Ids of the households that it concerned. The caller holds the recall's row."""
    now = service.clock.now()
    recall.undone_at, recall.undone_by, recall.undone_why = now, agent_id, why
    session.add(recall)
    houses = session.exec(select(RecallHouse).where(RecallHouse.recall_id == recall.id)).all()
    jobs.cancel(session, f"{RECALL}:{recall.id}", *map(house_key, houses))
    homes = _as_they_stand(session, [row.household_id for row in houses])
    for some in slices(homes):
        _unmark(session, recall.id, some)
    known_everywhere = now + 2 * RecalledMeters.KEEP
    for row in houses:
        if row.done_at is not None:
            payload = {"recall": recall.id, "household": row.household_id}
            key = f"{UNDONE}:{recall.id}:{row.household_id}"
            jobs.enqueue(session, UNDONE, key=key, payload=payload, run_at=known_everywhere, now=now)
    _leave_to_others(session, service, recall)
    return homes


def _as_they_stand(session: Session, ids: Sequence[int]) -> list[int]:
    """A file that was joined to another is that one's now."""
    found: set[int] = set()
    for some in slices(ids):
        rows = session.exec(select(Household.id, Household.merged_into).where(col(Household.id).in_(some)))
        found |= {merged or key for key, merged in rows}
    return sorted(found)


def _unmark(session: Session, recall_id: int, homes: Sequence[int]) -> None:
    """The households' versions move first: what was decided on the marks is decided again."""
    connection = session.connection()
    connection.execute(update(Household).where(col(Household.id).in_(homes)).values(version=Household.version + 1))
    for table in _MARKED:
        mine = (col(table.household_id).in_(homes), col(table.recall_id) == recall_id)
        connection.execute(update(table).where(*mine).values(recall_id=None))


def _leave_to_others(session: Session, service: Service, undone: MeterRecall) -> None:
    """What another recall would have taken, had this one not had it already, is that one's now."""
    session.flush()
    standing = (col(MeterRecall.undone_at).is_(None), MeterRecall.id != undone.id)
    for other in session.exec(select(MeterRecall).where(*standing)).all():
        found = [each for each in concerned(session, Wanted.of(other)) if each.checks]
        if not found:
            continue
        mark(session, other, found)
        now, payload = service.clock.now(), {"recall": other.id, "after": 0}
        run_at = now + 2 * RecalledMeters.KEEP
        jobs.enqueue(session, RECALL, key=f"{RECALL}:{other.id}", payload=payload, run_at=run_at, now=now)


def recall_undone(work: Work) -> None:
    """One household is weighed with its numbers again, and told, in one transaction."""
    service, recall_id = work.service, work.number("recall")
    for _ in range(MOST_TRIES):
        with writing(service.engine) as session:  # what another process has marked in the seconds after
            (home,) = _as_they_stand(session, [work.number("household")]) or [0]
            _unmark(session, recall_id, [home])
        try:
            _weigh(work, recall_id, home)
            return
        except Moved:
            continue
    raise TurnNotTaken(UNDONE)


def _weigh(work: Work, recall_id: int, household_id: int) -> None:
    service = work.service
    with reading(service.engine) as session:
        recall, home = session.get_one(MeterRecall, recall_id), session.get(Household, household_id)
        people = people_of(session, household_id) if home is not None else ()
        looked = look(session, service, home, people) if home is not None and people else None
    agent = recall.undone_by or recall.made_by
    told = 0
    with work.settling() as session:
        if looked is not None:
            given = weighed(looked.facts, service.flows.messages, "recall.undone")
            keep_by_agent(session, service, looked.known, given.effects, agent)
            take_back_ready(session, service, looked, looked.ready, given.not_ready)
            told = _tell(session, service, agent, household_id, given.says)
        detail = {"recall": str(recall_id), "told": str(told)}
        session.add(Audit(at=service.clock.now(), agent_id=agent, household_id=household_id, action=UNDONE,
                          detail=detail))  # fmt: skip


def _tell(session: Session, service: Service, agent_id: int, household_id: int, says: Sequence[Say]) -> int:
    """Every phone that may have been told of it, in the hours in which we speak. Nothing of the house is named."""
    send_at = next_allowed(service.clock.now(), zone_of(session, service, household_id), service.county.hours)
    reached = [person.contact for person in people_of(session, household_id) if may_be_reached(person)]
    for contact in reached:
        tell_for_agent(session, service, agent_id, household_id, contact, says, send_at=send_at)
    return len(reached)


def bury(work: Work) -> None:
    """The job is dead: the marks are off, and a person must tell this household."""
    with writing(work.service.engine) as session:
        detail = {"job": UNDONE, "recall": str(work.number("recall"))}
        raise_escalation(
            session, work.service, work.number("household"), EscalationReason.FAILURE, Urgency.URGENT, detail=detail
        )
