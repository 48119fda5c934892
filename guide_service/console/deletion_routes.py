"""A coordinator decides on a request to delete, beside the county's rule, with a reason; both stand in the decision."""

from __future__ import annotations

import datetime as dt

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from sqlalchemy import func
from sqlmodel import Session, col, select
from starlette.datastructures import FormData

from guide_service.console.access import CoordinatorDep, FormDep, ServiceDep, field, row_id
from guide_service.console.catalogue import N_, gettext
from guide_service.console.household_file import household_in_scope
from guide_service.console.pages import page, today_of
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading, writing
from guide_service.deletion import deciding
from guide_service.deletion.carrying_out import held
from guide_service.deletion.deciding import Decided, Why, open_requests
from guide_service.records import Escalation, Household, Loan, ReadingRow
from guide_service.turning.people import may_be_told, people_of
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)
DELETION = "/console/records/deletions/{household}"
RECORDS = "/console/records"
LONGEST_KEPT = dt.timedelta(days=20 * 365)
ALL, IN_PART, REFUSE, TAKEN_BACK = "all", "in_part", "refuse", "taken_back"
PROBLEMS = {
    "choice": N_("Choose what is decided."),
    "reason": N_("Say why: the decision keeps it."),
    "why": N_("Choose what the household is told of the reason."),
    "until": N_("Say until when the readings are kept: a day to come."),
    "decided": N_("It has been granted already. It can only be taken back now."),
}


@router.get(DELETION)
def one_request(request: Request, service: ServiceDep, who: CoordinatorDep, household: str) -> Response:
    return _page(request, service, who, row_id(household))


@router.post(DELETION)
def decide(request: Request, service: ServiceDep, who: CoordinatorDep, form: FormDep, household: str) -> Response:
    key = row_id(household)
    with writing(service.engine) as session:
        household_in_scope(session, service.county, who.agent, key)
        held(session, key)
        found = _request(session, key)
        problem = _problem(service, form, granted=found.decision is not None)
        if problem is None:
            _carry_in(session, service, who, form, found)
    if problem:
        return _page(request, service, who, key, gettext(PROBLEMS[problem]), form)
    return RedirectResponse(f"{RECORDS}?done=deletion_{field(form, 'decision')}", status_code=303)


def _request(session: Session, household_id: int) -> deciding.Request:
    """404 where none is open."""
    found = open_requests(session, household_id)
    if not found:
        raise HTTPException(404)
    return found[0]


def _problem(service: Service, form: FormData, *, granted: bool) -> str | None:
    choice = field(form, "decision")
    if choice not in (ALL, IN_PART, REFUSE, TAKEN_BACK):
        return "choice"
    if granted and choice != TAKEN_BACK:
        return "decided"
    if not field(form, "reason"):
        return "reason"
    if choice == REFUSE and field(form, "why") not in set(Why):
        return "why"
    return "until" if choice == IN_PART and _until(service, form) is None else None


def _until(service: Service, form: FormData) -> dt.date | None:
    today = today_of(service)
    try:
        day = dt.date.fromisoformat(field(form, "keep_until"))
    except ValueError:
        return None
    return day if today < day <= today + LONGEST_KEPT else None


def _carry_in(session: Session, service: Service, who: SignedIn, form: FormData, found: deciding.Request) -> None:
    choice, reason = field(form, "decision"), field(form, "reason")[:300]
    if choice == TAKEN_BACK:
        deciding.take_back(session, service, who.agent.id, found, reason)
        return
    decided = Decided(
        granted=choice != REFUSE,
        reason=reason,
        why=Why(field(form, "why")) if choice == REFUSE else None,
        keep_until=_until(service, form) if choice == IN_PART else None,
    )
    deciding.decide(session, service, who.agent.id, found, decided)


def _page(
    request: Request,
    service: Service,
    who: SignedIn,
    household_id: int,
    problem: str | None = None,
    form: FormData | None = None,
) -> Response:
    with reading(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, household_id)
        found = _request(session, home.id)
        people = people_of(session, home.id)
        open_needs = select(Escalation).where(Escalation.household_id == home.id, Escalation.state != "settled")
        needs = [each for each in session.exec(open_needs) if each.id != found.escalation.id]
        counted = select(func.count()).select_from(ReadingRow).where(ReadingRow.household_id == home.id)
        readings = session.exec(counted).one()
        out = session.exec(select(Loan).where(Loan.household_id == home.id, col(Loan.returned_on).is_(None))).all()
    return page(
        request, service, "deletion.html", who, 422 if problem else 200, here="records", problem=problem,
        sent=form or {}, found=found, people=people, reached=sum(map(may_be_told, people)), needs=needs,
        readings=readings, out=out, kept_until=_kept_by_rule(service, home), whys=list(Why),
    )  # fmt: skip


def _kept_by_rule(service: Service, home: Household) -> str:
    """The day that the county's rule names, after the last check."""
    days = service.county.records.keep_readings_days
    since = home.last_check_on or service.clock.now().date()
    return (since + dt.timedelta(days=days)).isoformat() if days else ""
