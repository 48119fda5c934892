"""The drying log for agents: as a page that prints, as PDF, and the PIN by which somebody outside may see it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Query, Request
from fastapi.responses import RedirectResponse, Response

from guide_service.console.access import HOME, AgentDep, FormDep, ServiceDep, field, row_id
from guide_service.console.audit import note
from guide_service.console.household_file import household_in_scope
from guide_service.console.log_contents import log_sheet, number_shown
from guide_service.console.log_pdf import log_pdf
from guide_service.console.log_pins import DAYS, end_pin, has_pin, log_of, new_pin
from guide_service.console.log_values import CAUTIONS, HOW_TO_READ, SIGNATURES, LogSheet
from guide_service.console.pages import page
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading, writing
from guide_service.records import DryingLog, Household
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)
LOG = "/console/households/{household}/log"
Paper = Literal["a4", "letter"]
PaperParam = Annotated[Paper, Query()]
SHOWN_WITH: dict[str, Any] = {"cautions": CAUTIONS, "signatures": SIGNATURES, "how_to_read": HOW_TO_READ}


@router.get(LOG)
def log(request: Request, service: ServiceDep, who: AgentDep, household: str) -> Response:
    home, row = _looked_up(service, who, household, "look_log")
    return _log_page(request, service, who, home, row)


@router.get(f"{LOG}.pdf")
def log_as_pdf(service: ServiceDep, who: AgentDep, household: str, paper: PaperParam = "letter") -> Response:
    home, row = _looked_up(service, who, household, "print_log")
    return pdf_answer(sheet_of(service, home, row), paper)


@router.post(f"{LOG}/pin")
def pin_made(request: Request, service: ServiceDep, who: AgentDep, form: FormDep, household: str) -> Response:
    """The page with the new PIN: it is shown in this answer and never again."""
    key, days, for_whom = row_id(household), field(form, "days"), field(form, "pin_for")[:80]
    with writing(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, key)
        if days not in {str(each) for each in DAYS} or not for_whom:
            raise HTTPException(422)
        row = log_of(session, home)
        pin = new_pin(session, row, who.agent.id, int(days), for_whom, service.clock.now())
        note(session, service, who, "make_log_pin", home.id, days=days, pin_for=for_whom)
    return _log_page(request, service, who, home, row, pin)


@router.post(f"{LOG}/pin/end")
def pin_ended(service: ServiceDep, who: AgentDep, _form: FormDep, household: str) -> Response:
    with writing(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, row_id(household))
        end_pin(session, log_of(session, home))
        note(session, service, who, "end_log_pin", home.id)
    return RedirectResponse(f"{HOME}/households/{home.id}/log?done=pin_ended", status_code=303)


def sheet_of(service: Service, home: Household, row: DryingLog) -> LogSheet:
    with reading(service.engine) as session:
        return log_sheet(session, service, home, row)


def pdf_answer(sheet: LogSheet, paper: Paper) -> Response:
    """Its name says nothing of the house: a folder of downloads is read by many."""
    headers = {"Content-Disposition": 'inline; filename="drying-log.pdf"'}
    return Response(log_pdf(sheet, paper), media_type="application/pdf", headers=headers)


def _looked_up(service: Service, who: SignedIn, household: str, action: str) -> tuple[Household, DryingLog]:
    with writing(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, row_id(household))
        row = log_of(session, home)
        note(session, service, who, action, home.id)
    return home, row


def _log_page(
    request: Request, service: Service, who: SignedIn, home: Household, row: DryingLog, pin: str = ""
) -> Response:
    return page(
        request,
        service,
        "log.html",
        who,
        sheet=sheet_of(service, home, row),
        household=home,
        row=row,
        open_outside=has_pin(row, service.clock.now()),
        pin=number_shown(pin) if pin else "",
        outside=f"{service.settings.address}/log",
        days_to_choose=DAYS,
        **SHOWN_WITH,
    )
