"""Who may come in: the signed-in agent of a request, his or her role, the token of its forms.

Every route under ``/console`` names who may use it: ``AgentDep``, ``CoordinatorDep``, ``VolunteerDep``,
``TranslatorDep``, ``TranslatingDep``, or ``SignedInDep`` for all of them; a route that changes something also takes
``FormDep``. The sign-in page is the one exception. What somebody may not see does not exist for him or her: 404, never
403.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Collection
from typing import Annotated, Any, cast
from urllib.parse import parse_qsl

from fastapi import Depends, FastAPI, HTTPException, Query, Request
from fastapi.responses import RedirectResponse, Response
from sqlalchemy.exc import SQLAlchemyError
from starlette.datastructures import FormData

from guide_service.console.roles import AGENTS, COORDINATORS, TRANSLATING, TRANSLATORS, VOLUNTEERS, home_of
from guide_service.console.second_factor import is_required, is_set
from guide_service.console.sign_in import SESSION_HOURS, SignedIn, signed_in
from guide_service.console.tongue import COOKIE as LANGUAGE_COOKIE
from guide_service.console.tongue import Tongues, choose
from guide_service.wiring import Service

SIGN_IN = "/console/sign-in"
HOME = "/console"
SET_UP = "/console/account/second-factor"
_COOKIE = "guide_agent"
_FORM_COOKIE = "guide_form"
MAX_FORM_BYTES = 262_144
"""The longest form is a notice with an own text in every language: eight of 1,600 characters, each at most twelve bytes
when it is percent-encoded."""

POLICY = "; ".join(
    (
        "default-src 'none'",
        "style-src 'self'",
        "script-src 'self'",
        "img-src 'self' data:",
        "media-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Cache-Control": "no-store",
}
ONLY_HTTPS = {"Strict-Transport-Security": "max-age=31536000"}
"""A year (RFC 6797). Not for subdomains: they need not be ours."""
KEPT_BY_BROWSERS = "public, max-age=31536000, immutable"
"""For files whose address changes with their content (``?v=``)."""


class NotSignedIn(Exception):
    """Nobody is signed in, or the session has ended."""


class FactorMissing(Exception):
    """The office requires a second factor, and this account has none yet: nothing else is reached before."""


class NotHome(Exception):
    """Somebody whose work begins on another page came to the first one."""

    def __init__(self, home: str) -> None:
        self.home = home


def service_of(request: Request) -> Service:
    """With the version of the policy that is in force as this page begins."""
    service = cast("Service", request.app.state.service)
    service.in_force.look()
    return service


ServiceDep = Annotated[Service, Depends(service_of)]


def who_holds_the_cookie(request: Request, service: ServiceDep) -> SignedIn:
    who = signed_in(service, session_cookie(request, service))
    if who is None:
        raise NotSignedIn
    choose(who.agent.language)
    return who


EvenWithoutFactorDep = Annotated[SignedIn, Depends(who_holds_the_cookie)]
"""Somebody signed in, whether or not a required second factor is set up: for the pages on which it is set up."""


def who_is_signed_in(service: ServiceDep, who: EvenWithoutFactorDep) -> SignedIn:
    if is_required(who.agent, service.county) and not is_set(who.agent):
        raise FactorMissing
    return who


SignedInDep = Annotated[SignedIn, Depends(who_is_signed_in)]
"""Somebody signed in, whatever the role."""


def whoever_it_is(request: Request, service: Service) -> SignedIn | None:
    """For a page that tells of an error: the person signed in, or nobody, also while the database is away."""
    try:
        who = signed_in(service, session_cookie(request, service))
    except SQLAlchemyError:
        return None
    if who is None or (is_required(who.agent, service.county) and not is_set(who.agent)):
        return None
    choose(who.agent.language)
    return who


def only(roles: Collection[str]) -> Callable[..., SignedIn]:
    """A dependency that lets these roles through; to the others the page does not exist."""

    def who_has_the_role(request: Request, who: SignedInDep) -> SignedIn:
        if who.agent.role in roles:
            return who
        if request.url.path == HOME and request.method == "GET":
            raise NotHome(home_of(who.agent.role))
        raise HTTPException(404)

    return who_has_the_role


AgentDep = Annotated[SignedIn, Depends(only(AGENTS))]
"""Agents and coordinators."""
CoordinatorDep = Annotated[SignedIn, Depends(only(COORDINATORS))]
VolunteerDep = Annotated[SignedIn, Depends(only(VOLUNTEERS))]
TranslatorDep = Annotated[SignedIn, Depends(only(TRANSLATORS))]
"""Translators, and coordinators, who look only."""
TranslatingDep = Annotated[SignedIn, Depends(only(TRANSLATING))]


async def posted_form(request: Request) -> FormData:
    """The fields of a plain form; 413 for more than any form of ours can hold, before it is all read."""
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > MAX_FORM_BYTES:
            raise HTTPException(413)
    return FormData(dict(parse_qsl(body.decode("utf-8", "replace"), keep_blank_values=True)))


PostedDep = Annotated[FormData, Depends(posted_form)]


def checked_form(form: PostedDep, who: EvenWithoutFactorDep) -> FormData:
    """The fields of a form that one of our own pages sent."""
    check_token(form, who)
    return form


FormDep = Annotated[FormData, Depends(checked_form)]
HouseholdAsked = Annotated[str, Query(max_length=19, pattern="^[0-9]*$")]
"""Id of the household that a form of the records begins with; empty: none."""


def check_token(form: FormData, who: SignedIn) -> None:
    if not secrets.compare_digest(field(form, "csrf").encode(), who.csrf.encode()):
        raise HTTPException(403)


def field(form: FormData, name: str) -> str:
    """A field as text, trimmed; empty when it is missing."""
    value = form.get(name)
    return value.strip() if isinstance(value, str) else ""


def number_field(form: FormData, name: str) -> int:
    """An id in a field; 404 for what is none."""
    return row_id(field(form, name))


def row_id(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 19):
        raise HTTPException(404)
    return int(text)


def is_https(service: Service) -> bool:
    return service.settings.address.startswith("https://")


def cookie_name(service: Service, name: str) -> str:
    """Over https the browser itself guards the cookie's origin (the ``__Host-`` prefix, RFC 6265bis)."""
    return f"__Host-{name}" if is_https(service) else name


def session_cookie(request: Request, service: Service) -> str | None:
    return request.cookies.get(cookie_name(service, _COOKIE))


def keep_signed_in(service: Service, response: Response, token: str) -> None:
    set_cookie(service, response, _COOKIE, token, SESSION_HOURS * 3600)


def forget_signed_in(service: Service, response: Response) -> None:
    drop_cookie(service, response, _COOKIE)


def drop_cookie(service: Service, response: Response, name: str) -> None:
    response.delete_cookie(
        cookie_name(service, name), secure=is_https(service), httponly=True, samesite="lax", path="/"
    )


def stranger_token(request: Request, service: Service) -> str:
    """The token of the sign-in form, before anybody is known: the cookie and the field must agree."""
    return request.cookies.get(cookie_name(service, _FORM_COOKIE)) or secrets.token_urlsafe(24)


def keep_stranger_token(service: Service, response: Response, token: str) -> None:
    set_cookie(service, response, _FORM_COOKIE, token, 3600)


def check_stranger(request: Request, service: Service, form: FormData) -> None:
    cookie = request.cookies.get(cookie_name(service, _FORM_COOKIE), "")
    if not cookie or not secrets.compare_digest(cookie.encode(), field(form, "csrf").encode()):
        raise HTTPException(403)


def set_cookie(service: Service, response: Response, name: str, value: str, max_age: int) -> None:
    response.set_cookie(
        cookie_name(service, name),
        value,
        max_age=max_age,
        httponly=True,
        samesite="lax",
        secure=is_https(service),
        path="/",
    )


def send_to_sign_in(request: Request, _problem: Exception) -> Response:
    """A part of a page that is asked for by script leads the whole page there."""
    if request.headers.get("hx-request"):
        return Response(status_code=401, headers={"HX-Redirect": SIGN_IN})
    return RedirectResponse(SIGN_IN, status_code=303)


def send_home(_request: Request, problem: Exception) -> Response:
    return RedirectResponse(cast("NotHome", problem).home, status_code=303)


def send_to_set_up(_request: Request, _problem: Exception) -> Response:
    return RedirectResponse(SET_UP, status_code=303)


def guard_pages(app: FastAPI) -> None:
    """Headers on every page, and the way to the sign-in page for whoever is not signed in."""
    app.add_exception_handler(NotSignedIn, send_to_sign_in)
    app.add_exception_handler(FactorMissing, send_to_set_up)
    app.add_exception_handler(NotHome, send_home)
    app.add_middleware(Tongues, cookie=cookie_name(app.state.service, LANGUAGE_COOKIE))
    app.add_middleware(PageHeaders, https=is_https(app.state.service))


class PageHeaders:
    """Strict headers on everything but the carrier's webhooks (plain ASGI: it must cost nothing there)."""

    def __init__(self, app: Any, https: bool = False) -> None:
        self.app = app
        self.kept = [(b"cache-control", KEPT_BY_BROWSERS.encode())]
        headers = HEADERS | ONLY_HTTPS if https else HEADERS
        self.headers = [(name.lower().encode(), value.encode()) for name, value in headers.items()]

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] != "http" or scope["path"].startswith("/carrier/"):
            await self.app(scope, receive, send)
            return

        own = self.kept if scope["query_string"].startswith(b"v=") and "/static/" in scope["path"] else []

        async def send_with_headers(message: Any) -> None:
            if message["type"] == "http.response.start":
                present = {name for name, _ in (*message["headers"], *own)}
                missing = [header for header in self.headers if header[0] not in present]
                message["headers"] = [*message["headers"], *own, *missing]
            await send(message)

        await self.app(scope, receive, send_with_headers)
