"""The agents' pages. Routes only: who may come in is in ``access``, what is read in ``waiting``."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, FastAPI, Query, Request
from fastapi.responses import RedirectResponse, Response
from fastapi.staticfiles import StaticFiles

from guide_service.console import access, actions, file_routes, visit_routes, waiting_routes
from guide_service.console.access import HOME, SIGN_IN, FormDep, PostedDep, ServiceDep, SignedInDep
from guide_service.console.catalogue import N_, gettext
from guide_service.console.household_page import Shown, household_page, joined_to
from guide_service.console.live_routes import install_live
from guide_service.console.pages import STATIC, page
from guide_service.console.sign_in import Refusal, sign_in, sign_out
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)

REFUSALS = {
    Refusal.WRONG: N_("Login and password do not belong together."),
    Refusal.WAIT: N_("Too many wrong tries. Wait a little and try again."),
}


def install_console(app: FastAPI) -> None:
    """Everything under ``/console``: routes, files, headers, errors as pages."""
    access.guard_pages(app)
    app.include_router(router)
    app.include_router(actions.router)
    for module in (waiting_routes, file_routes, visit_routes):
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
    result = sign_in(service, login, access.field(form, "password"))
    if isinstance(result, Refusal):
        return _sign_in_page(request, service, result, login)
    response = RedirectResponse(HOME, status_code=303)
    access.keep_signed_in(service, response, result)
    return response


@router.post("/console/sign-out")
def sign_out_sent(service: ServiceDep, who: SignedInDep, _form: FormDep) -> Response:
    sign_out(service, who.token_key)
    response = RedirectResponse(SIGN_IN, status_code=303)
    access.forget_signed_in(service, response)
    return response


@router.get("/console/households/{household}")
def household(
    request: Request,
    service: ServiceDep,
    who: SignedInDep,
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
    status = {None: 200, Refusal.WRONG: 401, Refusal.WAIT: 429}[refusal]
    response = page(request, service, "sign_in.html", None, status, stranger=token, login=login, problem=problem)
    access.keep_stranger_token(service, response, token)
    return response
