"""The page of one's own account, for every role, and the page on which a second factor is set up."""

from __future__ import annotations

import io
from typing import Any

import segno
from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup

from guide_service.console import access, account, second_factor
from guide_service.console.access import SET_UP, SIGN_IN, EvenWithoutFactorDep, FormDep, ServiceDep, SignedInDep, field
from guide_service.console.catalogue import N_, gettext
from guide_service.console.pages import page
from guide_service.console.roles import ACCOUNT
from guide_service.console.sign_in import Refusal, SignedIn
from guide_service.console.tongue import COOKIE as LANGUAGE_COOKIE
from guide_service.console.tongue import KEPT_SECONDS
from guide_service.database import reading
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)
REFUSALS = {
    Refusal.WRONG: N_("The present password is not right."),
    Refusal.WRONG_CODE: N_("That code is not right, or it was used before. Wait for the next one."),
    Refusal.WAIT: N_("Too many wrong tries. Wait a little and try again."),
}


@router.get(ACCOUNT)
def own_account(request: Request, service: ServiceDep, who: SignedInDep) -> Response:
    return _account_page(request, service, who)


@router.post(f"{ACCOUNT}/password")
def password_sent(request: Request, service: ServiceDep, who: SignedInDep, form: FormDep) -> Response:
    present, new, again = (_untrimmed(form, name) for name in ("present", "new", "again"))
    try:
        result = account.change_password(service, who, present, new, again)
    except account.Unfit as reason:
        return _account_page(request, service, who, str(reason))
    if isinstance(result, Refusal):
        return _account_page(request, service, who, gettext(REFUSALS[result]))
    response = RedirectResponse(f"{ACCOUNT}?done=password", status_code=303)
    access.keep_signed_in(service, response, result)
    return response


@router.post(f"{ACCOUNT}/language")
def language_chosen(service: ServiceDep, who: SignedInDep, form: FormDep) -> Response:
    chosen = field(form, "language")
    if not account.set_language(service, who, chosen):
        raise HTTPException(422)
    response = RedirectResponse(f"{ACCOUNT}?done=language", status_code=303)
    access.set_cookie(service, response, LANGUAGE_COOKIE, chosen, KEPT_SECONDS)
    return response


@router.post(f"{ACCOUNT}/sessions/end")
def session_ended(service: ServiceDep, who: SignedInDep, form: FormDep) -> Response:
    if not account.end_session(service, who, field(form, "session")):
        raise HTTPException(404)
    return RedirectResponse(f"{ACCOUNT}?done=session_ended", status_code=303)


@router.post(f"{ACCOUNT}/sessions/end-all")
def all_sessions_ended(service: ServiceDep, who: SignedInDep, _form: FormDep) -> Response:
    account.end_all_sessions(service, who)
    response = RedirectResponse(SIGN_IN, status_code=303)
    access.forget_signed_in(service, response)
    return response


@router.get(SET_UP)
def factor_page(request: Request, service: ServiceDep, who: EvenWithoutFactorDep) -> Response:
    return _factor_page(request, service, who)


@router.post(f"{SET_UP}/begin")
def factor_begun(service: ServiceDep, who: EvenWithoutFactorDep, _form: FormDep) -> Response:
    account.begin_factor(service, who)
    return RedirectResponse(SET_UP, status_code=303)


@router.post(f"{SET_UP}/confirm")
def factor_confirmed(request: Request, service: ServiceDep, who: EvenWithoutFactorDep, form: FormDep) -> Response:
    result = account.confirm_factor(service, who, field(form, "code"))
    if isinstance(result, Refusal):
        return _factor_page(request, service, who, result)
    cookie, codes = result
    response = _codes_page(request, service, who, codes)
    access.keep_signed_in(service, response, cookie)
    return response


@router.post(f"{SET_UP}/recovery-codes")
def codes_made_anew(request: Request, service: ServiceDep, who: SignedInDep, form: FormDep) -> Response:
    result = account.new_codes(service, who, field(form, "code"))
    if isinstance(result, Refusal):
        return _factor_page(request, service, who, result)
    return _codes_page(request, service, who, result)


@router.post(f"{SET_UP}/remove")
def factor_removed(request: Request, service: ServiceDep, who: SignedInDep, form: FormDep) -> Response:
    refusal = account.remove_factor(service, who, field(form, "code"))
    if refusal:
        return _factor_page(request, service, who, refusal)
    return RedirectResponse(f"{SET_UP}?done=factor_removed", status_code=303)


def square_code(text: str) -> Markup:
    """A QR code (ISO/IEC 18004) as plain SVG elements: nothing in it that the content security policy forbids."""
    out = io.BytesIO()
    segno.make(text, error="m").save(
        out, kind="svg", xmldecl=False, svgns=False, omitsize=True, border=4, dark="#000", light="#fff",
        svgclass="square-code", lineclass=None, nl=False,
    )  # fmt: skip
    return Markup(out.getvalue().decode())


def _untrimmed(form: Any, name: str) -> str:
    value = form.get(name)
    return value if isinstance(value, str) else ""


def _account_page(request: Request, service: Service, who: SignedIn, problem: str | None = None) -> Response:
    with reading(service.engine) as session:
        sessions = account.sessions_of(session, who.agent.id)
    return page(
        request,
        service,
        "account.html",
        who,
        422 if problem else 200,
        here="account",
        sessions=sessions,
        factor=second_factor.is_set(who.agent),
        problem=problem,
    )


def _factor_page(request: Request, service: Service, who: SignedIn, refusal: Refusal | None = None) -> Response:
    secret = None if second_factor.is_set(who.agent) else second_factor.secret_of(service, who.agent)
    with reading(service.engine) as session:
        left = second_factor.recovery_codes_left(session, who.agent.id)
    return page(
        request,
        service,
        "second_factor.html",
        who,
        422 if refusal else 200,
        here="account",
        is_set=second_factor.is_set(who.agent),
        required=second_factor.is_required(who.agent, service.county),
        secret=[secret[at : at + 4] for at in range(0, len(secret), 4)] if secret else None,
        code=square_code(second_factor.address_for_app(service, who.agent, secret)) if secret else None,
        left=left,
        problem=gettext(REFUSALS[refusal]) if refusal else None,
    )


def _codes_page(request: Request, service: Service, who: SignedIn, codes: list[str]) -> Response:
    return page(request, service, "recovery_codes.html", who, here="account", codes=codes)
