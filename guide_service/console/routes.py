"""The agents' pages. Routes only: who may come in is in ``access``, what is read in ``waiting``."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, FastAPI, Query, Request
from fastapi.responses import RedirectResponse, Response
from fastapi.staticfiles import StaticFiles

from guide_service.console import (
    access,
    account_routes,
    actions,
    county_routes,
    deletion_routes,
    export_routes,
    file_routes,
    finding_routes,
    handbook_routes,
    kept_media,
    loan_routes,
    log_outside_routes,
    log_routes,
    many_routes,
    policy_routes,
    recall_routes,
    records_routes,
    round_routes,
    text_routes,
    text_sheets,
    visit_routes,
    waiting_routes,
)
from guide_service.console.access import HOME, SIGN_IN, AgentDep, EvenWithoutFactorDep, FormDep, PostedDep, ServiceDep
from guide_service.console.account import device_of
from guide_service.console.catalogue import N_, gettext
from guide_service.console.household_page import Shown, household_page, joined_to
from guide_service.console.live_routes import install_live
from guide_service.console.pages import STATIC, page
from guide_service.console.problems import install_problems
from guide_service.console.roles import home_of
from guide_service.console.sign_in import Refusal, SignedIn, enter_code, sign_in, sign_out, waiting_for_code
from guide_service.console.tongue import choose
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)

SIGN_IN_CODE = f"{SIGN_IN}/code"
REFUSALS = {
    Refusal.WRONG: N_("Login and password do not belong together."),
    Refusal.WRONG_CODE: N_("That code is not right, or it was used before. Wait for the next one."),
    Refusal.WAIT: N_("Too many wrong tries. Wait a little and try again."),
    Refusal.TOO_LATE: N_("That took too long. Please sign in again."),
}
REFUSED_AS = {Refusal.WRONG: 401, Refusal.WRONG_CODE: 401, Refusal.WAIT: 429, Refusal.TOO_LATE: 401}


def install_console(app: FastAPI) -> None:
    """Everything under ``/console``: routes, files, headers, errors as pages."""
    install_problems(app)  # first: the headers are put around it
    access.guard_pages(app)
    app.include_router(router)
    app.include_router(actions.router)
    for module in (
        account_routes,
        waiting_routes,
        file_routes,
        kept_media,
        visit_routes,
        loan_routes,
        round_routes,
        finding_routes,
        county_routes,
        many_routes,
        log_routes,
        log_outside_routes,
        policy_routes,
        records_routes,
        recall_routes,
        handbook_routes,
        text_routes,
        text_sheets,
        deletion_routes,
        export_routes,
    ):
        app.include_router(module.router)
    install_live(app)
    app.mount("/console/static", StaticFiles(directory=STATIC), name="console-static")


@router.get(SIGN_IN)
def sign_in_form(request: Request, service: ServiceDep) -> Response:
    return _sign_in_page(request, service)


@router.post(SIGN_IN)
def sign_in_sent(request: Request, service: ServiceDep, form: PostedDep) -> Response:
    access.check_stranger(request, service, form)
    login = access.field(form, "login")
    result = sign_in(service, login, access.field(form, "password"), device_of(request.headers.get("user-agent", "")))
    if isinstance(result, Refusal):
        return _sign_in_page(request, service, result, login)
    response = RedirectResponse(SIGN_IN_CODE if result.waits_for_code else home_of(result.agent.role), status_code=303)
    access.keep_signed_in(service, response, result.token)
    return response


@router.get(SIGN_IN_CODE)
def code_form(request: Request, service: ServiceDep) -> Response:
    who = waiting_for_code(service, access.session_cookie(request, service))
    if who is None:
        return RedirectResponse(SIGN_IN, status_code=303)
    choose(who.agent.language)
    return _code_page(request, service, who)


@router.post(SIGN_IN_CODE)
def code_sent(request: Request, service: ServiceDep, form: PostedDep) -> Response:
    cookie = access.session_cookie(request, service)
    who = waiting_for_code(service, cookie)
    if who is None:
        return _sign_in_page(request, service, Refusal.TOO_LATE)
    choose(who.agent.language)
    access.check_token(form, who)
    result = enter_code(service, cookie, access.field(form, "code"))
    if isinstance(result, Refusal):
        return _code_page(request, service, who, result)
    response = RedirectResponse(home_of(result.agent.role), status_code=303)
    access.keep_signed_in(service, response, result.token)
    return response


@router.post("/console/sign-out")
def sign_out_sent(service: ServiceDep, who: EvenWithoutFactorDep, _form: FormDep) -> Response:
    sign_out(service, who.token_key)
    response = RedirectResponse(SIGN_IN, status_code=303)
    access.forget_signed_in(service, response)
    return response


@router.get("/console/households/{household}")
def household(
    request: Request,
    service: ServiceDep,
    who: AgentDep,
    household: str,
    before: Annotated[str, Query(max_length=19, pattern="^[0-9]*$")] = "",
) -> Response:
    first = joined_to(service, who, access.row_id(household))
    if first is not None:
        return RedirectResponse(f"{HOME}/households/{first}", status_code=303)
    shown = Shown(before=int(before) if before else None)
    return household_page(request, service, who, access.row_id(household), shown)


def _sign_in_page(request: Request, service: Service, refusal: Refusal | None = None, login: str = "") -> Response:
    token = access.stranger_token(request, service)
    problem = gettext(REFUSALS[refusal]) if refusal else None
    status = REFUSED_AS[refusal] if refusal else 200
    response = page(request, service, "sign_in.html", None, status, stranger=token, login=login, problem=problem)
    access.keep_stranger_token(service, response, token)
    return response


def _code_page(request: Request, service: Service, who: SignedIn, refusal: Refusal | None = None) -> Response:
    problem = gettext(REFUSALS[refusal]) if refusal else None
    status = REFUSED_AS[refusal] if refusal else 200
    return page(request, service, "sign_in_code.html", None, status, token=who.csrf, problem=problem)
