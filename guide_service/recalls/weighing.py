"""The work of a recall: each household is weighed anew and told, and brought before a person where a wall was ready.

One household is one job and one transaction: verdicts, what was said, the next check, texts, escalation, or none of it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service import jobs
from guide_service.database import reading, writing
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.dialogue.recalled import SaidBefore, TakenBack, meter_recalled, without_names
from guide_service.drying.terms import Band
from guide_service.followup.escalations import raise_escalation
from guide_service.followup.quiet_hours import next_allowed
from guide_service.followup.work import Work
from guide_service.outbox import zone_of
from guide_service.recalls.finding import slices
from guide_service.recalls.marking import RECALL, mark_late_ones
from guide_service.recalls.resting import Taken, answers_resting, taken_with, verdicts_resting
from guide_service.records import Audit, Check, Household, MeterRecall, ReadyAnswer, RecallHouse, Verdict, WallRow
from guide_service.turn import MOST_TRIES, TurnNotTaken
from guide_service.turning.entered import Looked, look, take_back_ready, tell_for_agent
from guide_service.turning.keeping import Moved, keep_by_agent
from guide_service.turning.people import Person, may_be_reached, people_of
from guide_service.wiring import Service

HOUSE = "recall_house"
AT_ONCE = 100
"""Households handed to jobs of their own in one transaction."""


def recall_due(work: Work) -> None:
    """Marks what came in late, then puts the households in line, a slice at a time."""
    service, after = work.service, work.number("after")
    service.recalls.look_again()
    with work.settling() as session:
        recall = session.get_one(MeterRecall, work.number("recall"))
        if recall.undone_at is not None:
            return
        if after == 0:
            mark_late_ones(session, recall)
        waiting = (RecallHouse.recall_id == recall.id, col(RecallHouse.done_at).is_(None), col(RecallHouse.id) > after)
        rows = session.exec(select(RecallHouse).where(*waiting).order_by(col(RecallHouse.id)).limit(AT_ONCE)).all()
        now = service.clock.now()
        for row in rows:
            payload = {"recall": recall.id, "household": row.household_id}
            jobs.enqueue(session, HOUSE, key=house_key(row), payload=payload, run_at=now, now=now)
        if len(rows) == AT_ONCE:
            work.again(session, now, after=rows[-1].id)


def house_key(row: RecallHouse) -> str:
    return f"{RECALL}:{row.recall_id}:{row.household_id}"


@dataclass(frozen=True, slots=True)
class _Seen:
    """One household of a recall as it was looked up."""

    household_id: int
    """The file that it was joined to since, if it was."""
    recall: MeterRecall
    people: tuple[Person, ...]
    looked: Looked | None
    """None: no phone belongs to it any more."""
    taken: Taken
    verdicts: list[Verdict]
    answers: list[ReadyAnswer]


def recall_house(work: Work) -> None:
    for _ in range(MOST_TRIES):
        seen = _see(work.service, work.number("recall"), work.number("household"))
        if seen.recall.undone_at is not None:
            return
        decided = _decide(work.service, seen)
        try:
            with work.settling() as session:
                done = _keep(session, work.service, seen, decided)
                _note(session, work.service, work.number("household"), seen, done)
            return
        except Moved:
            continue
    raise TurnNotTaken(HOUSE)


def _see(service: Service, recall_id: int, household_id: int) -> _Seen:
    with reading(service.engine) as session:
        recall = session.get_one(MeterRecall, recall_id)
        home = session.get(Household, household_id)
        household_id = (home.merged_into if home else None) or household_id
        home = session.get(Household, household_id)
        people = people_of(session, household_id) if home is not None else ()
        looked = look(session, service, home, people) if home is not None and people else None
        mine = (Check.household_id == household_id, Check.recall_id == recall_id)
        taken = taken_with(session, session.exec(select(Check.id).where(*mine)).all())
        verdicts, answers = verdicts_resting(session, taken), answers_resting(session, taken)
        return _Seen(household_id, recall, people, looked, taken.get(household_id, Taken()), verdicts, answers)


def _decide(service: Service, seen: _Seen) -> TakenBack | None:
    if seen.looked is None:
        return None
    letters = {row.wall_id: row.letter for row in seen.looked.known.places}
    last = {verdict.place: verdict for verdict in seen.verdicts}
    before = SaidBefore(
        ready=tuple(letters[each.wall_id] for each in seen.answers if each.wall_id in letters),
        dry=tuple(label for label, verdict in last.items() if verdict.band == Band.DRY),
    )
    still_wrong = seen.recall.last_day is None
    messages = service.flows.messages
    return meter_recalled(seen.looked.facts, messages, str(seen.recall.id), still_wrong, before)


@dataclass(frozen=True, slots=True)
class _Done:
    walls: Sequence[str] = ()
    """Names of those that were taken back."""
    closed: bool = False
    told: int = 0


def _keep(session: Session, service: Service, seen: _Seen, decided: TakenBack | None) -> _Done:
    done = _Done()
    if seen.looked is not None and decided is not None:
        keep_by_agent(session, service, seen.looked.known, decided.effects, seen.recall.made_by)
        take_back_ready(session, service, seen.looked, seen.answers, decided.walls)
        done = _Done(decided.names, decided.closed, _tell(session, service, seen, decided))
    elif seen.answers:
        done = _Done(_names(session, seen.answers))
        _nobody_to_tell(session, service, seen.household_id, done.walls)
    for table, rows in ((Verdict, seen.verdicts), (ReadyAnswer, seen.answers)):
        for ids in slices([row.id for row in rows]):
            resting = update(table).where(col(table.id).in_(ids)).values(recall_id=seen.recall.id)
            session.connection().execute(resting)
    return done


def _tell(session: Session, service: Service, seen: _Seen, decided: TakenBack) -> int:
    """Every phone of the household, helpers too: it may be they who close the wall. In the hours in which we speak."""
    now = service.clock.now()
    long_silence = dt.timedelta(days=service.county.identity.silent_days)
    send_at = next_allowed(now, zone_of(session, service, seen.household_id), service.county.hours)
    reached = [person.contact for person in seen.people if may_be_reached(person)]
    for contact in reached:
        silent = contact.last_heard_at is None or now - contact.last_heard_at > long_silence
        says = without_names(decided.says) if silent else decided.says
        tell_for_agent(session, service, seen.recall.made_by, seen.household_id, contact, says, send_at=send_at)
    return len(reached)


def _names(session: Session, answers: Sequence[ReadyAnswer]) -> list[str]:
    ids = [each.wall_id for each in answers]
    return [wall.name for wall in session.exec(select(WallRow).where(col(WallRow.id).in_(ids)))]


def _nobody_to_tell(session: Session, service: Service, household_id: int, names: Sequence[str]) -> None:
    """No phone is left to weigh it through or to text: a person must go there."""
    detail = {"walls": ", ".join(names), "closed": "not told"}
    raise_escalation(session, service, household_id, EscalationReason.METER_RECALLED, Urgency.URGENT, detail=detail)


def _note(session: Session, service: Service, household_id: int, seen: _Seen, done: _Done) -> None:
    """``household_id``: as it stands with the recall."""
    now, recall = service.clock.now(), seen.recall
    mine = (RecallHouse.recall_id == recall.id, RecallHouse.household_id == household_id)
    row = session.exec(select(RecallHouse).where(*mine)).one()
    row.walls, row.closed, row.told, row.done_at = list(done.walls), done.closed, done.told, now
    counted = {"readings": str(len(seen.taken.ids)), "walls": str(len(done.walls)), "told": str(done.told)}
    detail = {"recall": str(recall.id), **counted}
    home = seen.household_id
    session.add_all((row, Audit(at=now, agent_id=recall.made_by, household_id=home, action="recalled", detail=detail)))


def bury(work: Work) -> None:
    """The job is dead: the marks stand, and a person must tell this household."""
    with writing(work.service.engine) as session:
        detail = {"job": HOUSE, "recall": str(work.number("recall"))}
        raise_escalation(
            session, work.service, work.number("household"), EscalationReason.FAILURE, Urgency.URGENT, detail=detail
        )
