"""Households that no check is planned for and that say nothing: looked for once a day, asked twice, then listed.

A check that falls due has nudges of its own (``checks``); here is everybody else: a question that stays open, mud that
is never said to be out, a reminder that was answered with half a word. When one is asked is decided in
``dialogue.silence``; what is said, by the machine. Both chases have one key, so that a household is in one at most, and
any word from it ends this one. Nobody is asked who waits for us, or whom an agent talks to.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from guide_service import jobs
from guide_service.database import reading
from guide_service.dialogue.events import Event, EventName
from guide_service.dialogue.silence import Chase, Silent, chase
from guide_service.followup import checks
from guide_service.followup.quiet_hours import reminder_time
from guide_service.followup.silent_households import Stands, candidates, standing
from guide_service.followup.work import Work
from guide_service.outbox import zone_of
from guide_service.records import Household
from guide_service.records.loading import load_agreed
from guide_service.turn import clock_turn
from guide_service.wiring import Service

KIND, DUE, END = "silence_sweep", checks.SILENCE_DUE, checks.SILENCE_END
BEFORE_REMINDERS = dt.timedelta(hours=2)
"""The sweep of a day runs so long before reminders go out. Our choice."""


@dataclass(frozen=True, slots=True)
class Found:
    household: int
    contact: int
    plan: Chase
    run_at: dt.datetime
    day: dt.date


def sweep_silence(work: Work) -> None:
    """Begins to look for those who were silent long enough, as many as the county wants on one day."""
    found = list(_found(work.service))
    with work.settling() as session:
        for each in found:
            _begin(session, work.service, each)
        zone = work.service.county.zone(None)
        tomorrow = work.service.clock.now().astimezone(zone).date() + dt.timedelta(days=1)
        work.again(session, reminder_time(tomorrow, zone, work.service.county.hours) - BEFORE_REMINDERS)


def _begin(session: Session, service: Service, found: Found) -> None:
    payload = {"household": found.household, "step": 0, "due": found.day.isoformat(), "after": list(found.plan.nudges)}
    if not found.plan.nudges:
        payload["second"] = 0
    key, now = checks.nudge_key(found.household), service.clock.now()
    kind = DUE if found.plan.nudges else END
    jobs.enqueue(session, kind, key=key, payload=payload, run_at=found.run_at, now=now, replace=False)


def _found(service: Service) -> Iterator[Found]:
    """The longest silent first. A phone that serves several houses is asked about one of them on one day."""
    asked: set[int] = set()
    seen: set[int] = set()
    for row in candidates(service):
        if row.id in seen:
            continue  # another phone of the same house: the one that spoke last came first
        seen.add(row.id)
        found = _looked_at(service, row)
        if found is None or found.contact in asked:
            continue
        asked.add(found.contact)
        yield found
        if len(asked) >= service.county.silence.most_a_day:
            return


def _looked_at(service: Service, row: Any) -> Found | None:
    now, county = service.clock.now(), service.county
    zone = county.zone(row.area)
    today = now.astimezone(zone).date()
    since = max(row.updated_at, row.settled or row.updated_at)
    state = service.flows.states[service.flows.resume(row.state)]
    plan = chase(
        Silent(
            state.waits_for,
            row.stage,
            (today - since.astimezone(zone).date()).days,
            asked_landlord="landlord_asked_on" in (row.facts or {}),
            long_silent=_long_silent(service, row.last_heard_at, now),
        ),
        county.silence.days(),
    )
    if plan is None:
        return None
    run_at = reminder_time(today, zone, county.hours, row.facts)
    if run_at < now:
        today += dt.timedelta(days=1)
        run_at = reminder_time(today, zone, county.hours, row.facts)
    return Found(row.id, row.contact_id, plan, run_at, today)


def _long_silent(service: Service, heard: dt.datetime | None, now: dt.datetime) -> bool:
    return heard is not None and now - heard > dt.timedelta(days=service.county.identity.silent_days)


def silence_due(work: Work) -> None:
    """One of the two nudges, unless something has changed since it was put in line."""
    household, step = work.number("household"), int(work.job.payload.get("step", 0))
    if not _still_silent(work):
        return

    def next_follows(session: Session) -> None:
        work.hold(session)
        checks.put_nudge(work, session, household, {**work.job.payload, "step": step + 1})
        work.settle(session)

    clock_turn(work.service, household, Event(EventName.SILENCE_DUE, step), settle=next_follows, load=load_agreed)


def silence_end(work: Work) -> None:
    """Both nudges were not answered, or none may be sent: another way to reach them, then the agents' list."""
    if _still_silent(work):
        checks.silent(work)


def _still_silent(work: Work) -> bool:
    """Whether to go on; a chase that must wait is put off to the next day, one that is over ends here."""
    with reading(work.service.engine) as session:
        stands = standing(session, work.number("household"))
    if stands == Stands.HELD:
        _tomorrow(work)
    return stands == Stands.SILENT


def _tomorrow(work: Work) -> None:
    """A day later, and all that follows too: a chase that was held up does not catch up."""
    service, household_id = work.service, work.number("household")
    with work.settling() as session:
        zone, home = zone_of(session, service, household_id), session.get(Household, household_id)
        day = service.clock.now().astimezone(zone).date() + dt.timedelta(days=1)
        due = dt.date.fromisoformat(str(work.job.payload["due"])) + dt.timedelta(days=1)
        run_at = reminder_time(day, zone, service.county.hours, home.facts if home else None)
        work.again(session, run_at, due=due.isoformat())
