"""The drying log for somebody outside, without a sign-in: number and PIN in a posted form, then a short look.

Neither number nor PIN ever stands in an address: the answer to the form is a cookie that opens this one log.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from guide_service.console import access, log_pins
from guide_service.console.access import PostedDep, ServiceDep, cookie_name, field
from guide_service.console.catalogue import N_, gettext
from guide_service.console.log_pins import LOOK_MINUTES, NotOpened
from guide_service.console.log_routes import SHOWN_WITH, PaperParam, pdf_answer, sheet_of
from guide_service.console.pages import page
from guide_service.database import reading
from guide_service.records import DryingLog, Household
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)
FORM, SHEET = "/log", "/log/sheet"
_COOKIE = "guide_log"
REFUSALS = {
    NotOpened.WRONG: N_(
        "Number and PIN do not open a log. Look at both once more. The PIN may have ended, or was tried too often: "
        "then wait, or ask the county office for a new one."
    ),
    NotOpened.WAIT: N_("Too many tries from here. Wait some minutes, or ask the county office."),
}
REFUSED_AS = {NotOpened.WRONG: 401, NotOpened.WAIT: 429}


@router.get(FORM)
def log_form(request: Request, service: ServiceDep) -> Response:
    return _form_page(request, service)


@router.post(FORM)
def log_form_sent(request: Request, service: ServiceDep, form: PostedDep) -> Response:
    access.check_stranger(request, service, form)
    address = request.client.host if request.client else ""
    result = log_pins.open_log(service, field(form, "number"), field(form, "pin"), address)
    if isinstance(result, NotOpened):
        return _form_page(request, service, result)
    response = RedirectResponse(SHEET, status_code=303)
    access.set_cookie(service, response, _COOKIE, result, LOOK_MINUTES * 60)
    return response


@router.get(SHEET)
def log_outside(request: Request, service: ServiceDep) -> Response:
    found = _looked_at(request, service)
    if found is None:
        return RedirectResponse(FORM, status_code=303)
    log, home = found
    log_pins.note_look(service, log, "screen")
    return page(request, service, "log_outside.html", sheet=sheet_of(service, home, log), **SHOWN_WITH)


@router.get(f"{SHEET}.pdf")
def log_outside_as_pdf(request: Request, service: ServiceDep, paper: PaperParam = "letter") -> Response:
    found = _looked_at(request, service)
    if found is None:
        return RedirectResponse(FORM, status_code=303)
    log, home = found
    log_pins.note_look(service, log, paper)
    return pdf_answer(sheet_of(service, home, log), paper)


@router.post("/log/leave")
def log_left(request: Request, service: ServiceDep, form: PostedDep) -> Response:
    access.check_stranger(request, service, form)
    log_pins.leave(service, _token(request, service))
    response = RedirectResponse(FORM, status_code=303)
    access.drop_cookie(service, response, _COOKIE)
    return response


def _looked_at(request: Request, service: Service) -> tuple[DryingLog, Household] | None:
    log = log_pins.looked_at(service, _token(request, service))
    if log is None:
        return None
    with reading(service.engine) as session:
        home = session.get(Household, log.household_id)
    return (log, home) if home is not None and home.merged_into is None else None


def _token(request: Request, service: Service) -> str | None:
    return request.cookies.get(cookie_name(service, _COOKIE))


def _form_page(request: Request, service: Service, refusal: NotOpened | None = None) -> Response:
    """The same whatever was wrong; what was typed is not given back."""
    token = access.stranger_token(request, service)
    problem = gettext(REFUSALS[refusal]) if refusal else None
    status = REFUSED_AS[refusal] if refusal else 200
    response = page(request, service, "log_form.html", None, status, stranger=token, problem=problem)
    access.keep_stranger_token(service, response, token)
    return response
