"""An escalation that nobody has claimed is alarmed to the agents on call, again and again until somebody has.

A danger at any hour, anything else in the hours of the household's office. The text holds nothing about the household:
how urgent, what for, and how many wait.
"""

from __future__ import annotations

import datetime as dt

from sqlalchemy import String, cast, func, literal
from sqlmodel import Session, col, select

from guide_service import jobs
from guide_service.contacts import contact_of
from guide_service.county import County
from guide_service.database import writing
from guide_service.dialogue.effects import Urgency
from guide_service.dialogue.saying import Say
from guide_service.followup.escalations import ALARM, alarm_after, alarm_key
from guide_service.followup.quiet_hours import next_office_hour
from guide_service.followup.work import Work
from guide_service.outbox import start_text
from guide_service.records import Escalation, Household, Job
from guide_service.wiring import Service
from guide_service.wording.sms import compose

AGENTS_LANGUAGE = "en"
_URGENCY_WORDS = {
    Urgency.DANGER: "alarm.danger",
    Urgency.URGENT: "alarm.urgent",
    Urgency.SOON: "alarm.soon",
    Urgency.ROUTINE: "alarm.routine",
}


def alarm(work: Work) -> None:
    service, now = work.service, work.service.clock.now()
    with writing(service.engine) as session:
        # the escalation before the job, as an agent who claims it locks them
        escalation = session.get(Escalation, work.number("escalation"), with_for_update=True)
        work.hold(session)
        if escalation is not None and escalation.state == "waiting":
            opens = _when(session, service, escalation, now)
            work.again(session, opens if opens > now else _alarmed(session, service, escalation, now))
        work.settle(session)


def _when(session: Session, service: Service, escalation: Escalation, now: dt.datetime) -> dt.datetime:
    if escalation.urgency == Urgency.DANGER:
        return now
    household = session.get(Household, escalation.household_id)
    area = household.area if household else None
    return next_office_hour(now, service.county.zone(area), service.county.office_of(area))


def alarm_sooner(session: Session, county: County, now: dt.datetime) -> None:
    """The county changed its hours: no alarm that is set waits longer than it would when it were set now.

    One that then meets a closed office waits for its next opening, as any other.
    """
    for urgency in _URGENCY_WORDS:
        waiting = (Escalation.state == "waiting", Escalation.urgency == urgency)
        keys = select(literal(alarm_key("")) + cast(Escalation.id, String)).where(*waiting)
        jobs.bring_forward(session, ALARM, keys, now + alarm_after(county, urgency))


def _alarmed(session: Session, service: Service, escalation: Escalation, now: dt.datetime) -> dt.datetime:
    """Texts everybody on call, one text for all whose alarm is due now; when to alarm this one again."""
    others = _also_due(session, service, escalation, now)
    for also in others:
        key, run_at = alarm_key(also.id), now + alarm_after(service.county, also.urgency)
        jobs.enqueue(session, ALARM, key=key, payload={"escalation": also.id}, run_at=run_at, now=now)
    for each in (escalation, *others):
        each.alarms += 1
    first = min((escalation, *others), key=lambda each: each.urgency)
    text_all_on_call(session, service, _say(session, first))
    return now + alarm_after(service.county, escalation.urgency)


def _also_due(session: Session, service: Service, escalation: Escalation, now: dt.datetime) -> list[Escalation]:
    due = select(Job.key).where(Job.kind == ALARM, Job.state == "ready", col(Job.run_at) <= now)
    ids = [int(str(key).partition(":")[2]) for key in session.exec(due)]
    waiting = (Escalation.state == "waiting", Escalation.id != escalation.id, col(Escalation.id).in_(ids))
    found = session.exec(select(Escalation).where(*waiting).with_for_update(skip_locked=True)).all()
    return [each for each in found if _when(session, service, each, now) <= now]


def _say(session: Session, escalation: Escalation) -> Say:
    waiting = session.exec(select(func.count()).select_from(Escalation).where(Escalation.state == "waiting")).one()
    urgency = Say(_URGENCY_WORDS.get(escalation.urgency, "alarm.routine"))
    reason = Say(f"alarm.reason.{escalation.reason}")
    if escalation.alarms > 1:
        return Say("alarm.again", {"urgency": urgency, "reason": reason}, count=waiting)
    return Say("alarm.one", {"urgency": urgency, "reason": reason}, count=waiting)


def text_all_on_call(session: Session, service: Service, say: Say) -> None:
    texts = compose([say], AGENTS_LANGUAGE, service.catalogues)
    for number in service.county.on_call:
        contact = contact_of(session, service, number, AGENTS_LANGUAGE, kind="agent")
        start_text(
            session, service, contact=contact, household_id=None, texts=texts, origin="alarm", send_at=None, key=None
        )
