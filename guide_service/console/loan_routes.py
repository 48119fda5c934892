"""Agents lend a meter to a household and take it back; one page shows where the county's meters are."""

from __future__ import annotations

import datetime as dt

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, col, select

from guide_service.console import escalations
from guide_service.console.access import AgentDep, FormDep, ServiceDep, field, row_id
from guide_service.console.audit import note
from guide_service.console.catalogue import N_, gettext
from guide_service.console.file_routes import HOUSEHOLD, HomeDep, back_to
from guide_service.console.house_changes import of_household_in_scope
from guide_service.console.household_file import household_in_scope
from guide_service.console.household_page import AskedLoan, Shown, household_page
from guide_service.console.meters import meters_out
from guide_service.console.pages import page, today_of
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading, writing
from guide_service.dialogue.effects import EscalationReason
from guide_service.lending import loans
from guide_service.records import Agent, Household, Loan
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)
METERS = "/console/meters"
NO_NUMBER = N_("Name the meter: the number on it.")
NO_DAY = N_("Say until when: a day to come, at most %(days)s days away.")
IS_OUT = N_("That meter is out already. Take it back where it is first.")


@router.get(METERS)
def meters(request: Request, service: ServiceDep, who: AgentDep) -> Response:
    """Those that are out, the longest overdue first, and of the county's own those that are not."""
    today = today_of(service)
    with reading(service.engine) as session:
        rows = meters_out(session, service.county, who.agent)
        away = set(session.exec(select(Loan.meter).where(col(Loan.returned_on).is_(None))))
        names = {agent.id: agent.name for agent in session.exec(select(Agent))}
    here = [meter.number for meter in service.county.lent_meters if meter.number not in away]
    return page(
        request, service, "meters.html", who, here="finding", rows=rows, at_desk=here, today=today,
        overdue=sum(loan.days_overdue(today) > 0 for loan, _ in rows), agent_name=lambda key: names.get(key, ""),
    )  # fmt: skip


@router.post(f"{HOUSEHOLD}/loans")
def lend(request: Request, service: ServiceDep, who: AgentDep, form: FormDep, home: HomeDep) -> Response:
    meter, place, day = loans.number_of(service, field(form, "meter")), field(form, "place"), field(form, "due_on")
    due_on = _day(service, home, day)
    problem = None if meter else gettext(NO_NUMBER)
    if meter and due_on is None:
        problem = gettext(NO_DAY) % {"days": loans.LONGEST_LOAN_DAYS}
    if problem is None and not (due_on and _lent(service, who, home.id, meter, _place(service, place), due_on)):
        problem = gettext(IS_OUT)
    if problem:
        asked = AskedLoan(field(form, "meter"), place, day, problem)
        return household_page(request, service, who, home.id, Shown(loan=asked))
    return back_to(home.id, "lent")


@router.post("/console/loans/{loan}/longer")
def longer(service: ServiceDep, who: AgentDep, form: FormDep, loan: str) -> Response:
    with writing(service.engine) as session:
        found, home = _open_loan(session, service, who, loan)
        due_on = _day(service, home, field(form, "due_on"))
        if due_on is None:
            raise HTTPException(422)
        loans.longer(session, service, who.agent.id, home, found, due_on)
        _looked_after(session, service, who, home, "loan_longer")
        note(session, service, who, "loan_longer", home.id, loan=found.id, day=due_on.isoformat())
    return back_to(home.id, "loan_longer")


@router.post("/console/loans/{loan}/back")
def back(service: ServiceDep, who: AgentDep, _form: FormDep, loan: str) -> Response:
    with writing(service.engine) as session:
        found, home = _open_loan(session, service, who, loan)
        loans.take_back(session, service, who.agent.id, home, found)
        _looked_after(session, service, who, home, "meter_back")
        note(session, service, who, "loan_back", home.id, loan=found.id)
    return back_to(home.id, "loan_back")


def _lent(service: Service, who: SignedIn, household_id: int, meter: str, place: str, due_on: dt.date) -> bool:
    """False where the meter is out already, or of two at one instant this is the second."""
    try:
        with writing(service.engine) as session:
            home = household_in_scope(session, service.county, who.agent, household_id)
            if loans.loan_out(session, meter) is not None:
                return False
            loan = loans.lend(session, service, who.agent.id, home, meter, place, due_on)
            escalations.settle_all(session, service, who, [home.id], EscalationReason.METER_WANTED, "lent")
            note(session, service, who, "lend", home.id, loan=loan.id, meter=meter)
    except IntegrityError:
        return False
    return True


def _looked_after(session: Session, service: Service, who: SignedIn, home: Household, outcome: str) -> None:
    """Nobody has to fetch a meter from this household any more, unless it has another one too long."""
    session.flush()
    if not loans.still_overdue(session, service, home):
        escalations.settle_all(session, service, who, [home.id], EscalationReason.METER_OVERDUE, outcome)


def _open_loan(session: Session, service: Service, who: SignedIn, loan: str) -> tuple[Loan, Household]:
    """404 for another office's; 409 for a meter that is back."""
    found = of_household_in_scope(session, service, who, Loan, row_id(loan))
    session.refresh(found, with_for_update=True)
    if found.returned_on is not None:
        raise HTTPException(409)
    return found, session.get_one(Household, found.household_id)


def _place(service: Service, name: str) -> str:
    return name if name in {place.name for place in service.county.meter_places} else ""


def _day(service: Service, home: Household, text: str) -> dt.date | None:
    today = service.clock.now().astimezone(service.county.zone(home.area)).date()
    try:
        day = dt.date.fromisoformat(text)
    except ValueError:
        return None
    return day if today < day <= today + dt.timedelta(days=loans.LONGEST_LOAN_DAYS) else None
