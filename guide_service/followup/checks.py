"""A check falls due: the household is reminded, nudged, and then it is the agents' turn to look for it.

What is said and what changes is decided by the same machine that answers texts (``turn.clock_turn``); here stands only
when. A check that was done early or an opt-out cancels the job, even while it runs: the turn is then rolled back.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlmodel import Session

from guide_service import jobs
from guide_service.database import writing
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.dialogue.events import EventName
from guide_service.followup.escalations import raise_escalation
from guide_service.followup.other_channel import try_other_channel
from guide_service.followup.quiet_hours import reminder_time
from guide_service.followup.second_contact import tell_others
from guide_service.followup.work import Work
from guide_service.outbox import zone_of
from guide_service.records import Household
from guide_service.turn import clock_turn

NUDGE, SILENT = "nudge_due", "silent"
SILENCE_DUE, SILENCE_END = "silence_due", "silence_end"
"""The same two of a household that no check is planned for (``silence``); its payload holds the days of its nudges."""


def check_due(work: Work) -> None:
    def nudges_follow(session: Session) -> None:
        work.hold(session)
        begin_nudges(work, session)
        work.settle(session)

    clock_turn(work.service, work.number("household"), EventName.CHECK_DUE, settle=nudges_follow)


def nudge_due(work: Work) -> None:
    def next_follows(session: Session) -> None:
        work.hold(session)
        payload = {**work.job.payload, "step": work.job.payload.get("step", 0) + 1}
        put_nudge(work, session, work.number("household"), payload)
        work.settle(session)

    clock_turn(work.service, work.number("household"), EventName.NUDGE_DUE, settle=next_follows)


def silent(work: Work) -> None:
    """The last nudge was not answered: the other channel and another phone are tried, then the agents' list hears."""
    if "second" in work.job.payload or not _tried_another_way(work):
        _lost_from_sight(work)


def _tried_another_way(work: Work) -> bool:
    service, household_id = work.service, work.number("household")
    with writing(service.engine) as session:
        work.hold(session)
        told = try_other_channel(session, service, household_id) + tell_others(session, service, household_id)
        if told:
            zone, home = zone_of(session, service, household_id), session.get(Household, household_id)
            day = service.clock.now().astimezone(zone).date() + dt.timedelta(days=service.county.silence.listed)
            run_at = reminder_time(day, zone, service.county.hours, home.facts if home else None)
            work.again(session, run_at, second=told)
        return told > 0


def _lost_from_sight(work: Work) -> None:
    def settled(session: Session) -> None:
        work.hold(session)
        work.settle(session)

    clock_turn(work.service, work.number("household"), EventName.SILENT, settle=settled)


def bury(work: Work) -> None:
    """The job is dead: nobody will remind this household unless an agent does."""
    with writing(work.service.engine) as session:
        detail = {"job": work.job.kind}
        household_id = work.number("household")
        raise_escalation(session, work.service, household_id, EscalationReason.FAILURE, Urgency.URGENT, detail=detail)


def nudge_key(household_id: int) -> str:
    return f"nudge:{household_id}"


def begin_nudges(work: Work, session: Session) -> None:
    """Who does not answer to what fell due today is nudged, and then looked for."""
    household_id = work.number("household")
    put_nudge(work, session, household_id, {"household": household_id, "step": 0, "due": _today(work, session)})


def put_nudge(work: Work, session: Session, household_id: int, payload: dict[str, Any]) -> None:
    """The next of the nudges, counted from the day when the first was due; after the last one silence."""
    service = work.service
    days, nudge, end = service.county.hours.nudge_after_days, NUDGE, SILENT
    if "after" in payload:
        days, nudge, end = tuple(payload["after"]), SILENCE_DUE, SILENCE_END
    step, last = int(str(payload["step"])), days[-1] if days else 0
    kind, after = (nudge, days[step]) if step < len(days) else (end, last + service.county.silence.listed)
    due = dt.date.fromisoformat(str(payload.get("due") or _today(work, session)))
    zone = zone_of(session, service, household_id)
    home = session.get(Household, household_id)
    told = home.facts if home else None
    run_at = reminder_time(due + dt.timedelta(days=after), zone, service.county.hours, told)
    now, key = service.clock.now(), nudge_key(household_id)
    jobs.enqueue(session, kind, key=key, payload=payload, run_at=run_at, now=now)


def _today(work: Work, session: Session) -> str:
    zone = zone_of(session, work.service, work.number("household"))
    return work.service.clock.now().astimezone(zone).date().isoformat()
