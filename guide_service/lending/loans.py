"""A meter goes out to a household and comes back; each step is told to it, and its checks bear the meter's number.

While it has the meter, the household's file says so in the same words in which a household itself names one. So every
check is noted with it, its check block is known, and a recall of the meter finds these checks.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service import jobs
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.dialogue.meter_names import names_meter
from guide_service.dialogue.saying import Say
from guide_service.dialogue.values import meter_place_of
from guide_service.followup.escalations import raise_escalation
from guide_service.followup.quiet_hours import reminder_time
from guide_service.followup.work import Work
from guide_service.outbox import start_text, zone_of
from guide_service.recalls.standing import meter_named
from guide_service.records import Household, Loan
from guide_service.turning.entered import tell_for_agent
from guide_service.turning.people import may_be_told, people_of, speaker_of
from guide_service.wiring import Service
from guide_service.wording.sms import compose

KIND = "loan_due"
USUAL_DAYS = 28
"""Offered as the day to bring it back: about as long as opened walls take to dry. Our choice."""
LONGEST_LOAN_DAYS = 120
MOST_REMINDERS = 2
"""On the day and once more; then it is for a person (``county_rules.LoanRules``). Our choice."""
DAYS_BETWEEN = 4
LONGEST_NUMBER = 20


def number_of(service: Service, typed: str) -> str:
    """The number as it stands on the meter: in the county's own spelling where the county has such a meter."""
    tidy = " ".join(typed.split())[:LONGEST_NUMBER]
    known = (meter.number for meter in service.county.lent_meters)
    return next((number for number in known if number.casefold() == tidy.casefold()), tidy.upper())


def loan_out(session: Session, meter: str) -> Loan | None:
    """The loan that this meter is out on."""
    return session.exec(select(Loan).where(Loan.meter == meter, col(Loan.returned_on).is_(None))).first()


def lend(
    session: Session, service: Service, agent_id: int, home: Household, meter: str, place: str, due_on: dt.date
) -> Loan:
    """``meter`` is at the desk: the caller has looked, and of two at one instant the index lets one through."""
    _locked(session, home)
    loan = Loan(household_id=home.id, meter=meter, place=place, lent_on=_today(session, service, home.id),
                lent_by=agent_id, due_on=due_on)  # fmt: skip
    has = {"have": True, "kind": "pins", "whose": meter, "block": None}  # the county lends meters with pins
    home.facts = {**home.facts, "meter": {**_meter_of(home.facts), **has}}
    session.add_all((loan, home))
    session.flush()
    _remind_on(session, service, home, loan, due_on)
    _tell(session, service, agent_id, home, loan, "loan.lent")
    return loan


def longer(session: Session, service: Service, agent_id: int, home: Household, loan: Loan, due_on: dt.date) -> None:
    """The household may keep it until another day."""
    loan.due_on, loan.reminders = due_on, 0
    session.add(loan)
    _remind_on(session, service, home, loan, due_on)
    _tell(session, service, agent_id, home, loan, "loan.lent")


def take_back(session: Session, service: Service, agent_id: int, home: Household, loan: Loan) -> None:
    """It is at the desk again: what the household measures from now on is measured with another meter."""
    _locked(session, home)
    loan.returned_on, loan.returned_by = _today(session, service, home.id), agent_id
    if names_meter(meter_named(home.facts), loan.meter):
        home.facts = {name: told for name, told in home.facts.items() if name != "meter"}
    session.add_all((loan, home))
    session.flush()
    jobs.cancel(session, job_key(loan.id))
    _tell(session, service, agent_id, home, loan, "loan.back")


def loan_due(work: Work) -> None:
    """The household is asked to bring the meter back, some days later once more, and then a person has to fetch it."""
    service = work.service
    with work.settling() as session:
        loan = session.get(Loan, work.number("loan"))
        home = session.get(Household, loan.household_id) if loan else None
        if loan is None or home is None or loan.returned_on is not None:
            return
        today = _today(session, service, home.id)
        if loan.reminders < MOST_REMINDERS:
            _remind(session, service, home, loan)
            if loan.reminders < MOST_REMINDERS:
                return work.again(session, _at(session, service, home, today, DAYS_BETWEEN))
        grace = service.county.loans.person_after
        if loan.days_overdue(today) < grace:
            return work.again(session, _at(session, service, home, loan.due_on, grace))
        _wants_a_person(session, service, home, loan)


def still_overdue(session: Session, service: Service, home: Household) -> bool:
    """Whether a meter that this household has should be back by now."""
    out = (Loan.household_id == home.id, col(Loan.returned_on).is_(None))
    late = select(Loan.id).where(*out, col(Loan.due_on) < _today(session, service, home.id))
    return session.exec(late).first() is not None


def _remind(session: Session, service: Service, home: Household, loan: Loan) -> None:
    for person in filter(may_be_told, people_of(session, home.id)):
        contact = person.contact
        start_text(
            session, service, contact=contact, household_id=home.id, origin="started", send_at=None,
            texts=compose(_says(service, home, loan, "loan.due"), contact.language, service.catalogues),
            key=f"{job_key(loan.id)}:{contact.id}",
        )  # fmt: skip
    loan.reminders += 1
    session.add(loan)


def _wants_a_person(session: Session, service: Service, home: Household, loan: Loan) -> None:
    people = people_of(session, home.id)
    contact = speaker_of(people).contact.id if people else None
    detail = {"meter": loan.meter, "due": loan.due_on.isoformat()}
    raise_escalation(
        session, service, home.id, EscalationReason.METER_OVERDUE, Urgency.ROUTINE, contact_id=contact, detail=detail
    )


def job_key(loan_id: int) -> str:
    return f"loan:{loan_id}"


def _says(service: Service, home: Household, loan: Loan, message: str) -> Sequence[Say]:
    county = service.county_facts
    named = [place for place in county.meter_places if place.name == loan.place]
    where = named[0].words if named else meter_place_of(county, home.area)
    return [Say(message, {"office": county.office_name, "meter": loan.meter, "meter_place": where,
                          "date": loan.due_on})]  # fmt: skip


def _tell(session: Session, service: Service, agent_id: int, home: Household, loan: Loan, message: str) -> None:
    for person in filter(may_be_told, people_of(session, home.id)):
        tell_for_agent(session, service, agent_id, home.id, person.contact, _says(service, home, loan, message))


def _remind_on(session: Session, service: Service, home: Household, loan: Loan, day: dt.date) -> None:
    payload = {"loan": loan.id, "household": home.id}
    now = service.clock.now()
    at = _at(session, service, home, day, 0)
    jobs.enqueue(session, KIND, key=job_key(loan.id), payload=payload, run_at=at, now=now)


def _at(session: Session, service: Service, home: Household, day: dt.date, days: int) -> dt.datetime:
    zone = zone_of(session, service, home.id)
    return reminder_time(day + dt.timedelta(days=days), zone, service.county.hours, home.facts)


def _locked(session: Session, home: Household) -> None:
    """Its version moves first, as with every writer: a turn that was decided on the old file is decided again."""
    session.connection().execute(
        update(Household).where(col(Household.id) == home.id).values(version=Household.version + 1)
    )
    session.refresh(home)


def _meter_of(told: Mapping[str, Any]) -> Mapping[str, Any]:
    known = told.get("meter")
    return known if isinstance(known, dict) else {}


def _today(session: Session, service: Service, household_id: int) -> dt.date:
    return service.clock.now().astimezone(zone_of(session, service, household_id)).date()
