"""An error as a page: plain words, a way back, and a number by which whoever runs the service finds it in the log."""

from __future__ import annotations

import logging
import re
import secrets
from typing import Any

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse

from guide_service.console.access import whoever_it_is
from guide_service.console.catalogue import N_, gettext
from guide_service.console.pages import page
from guide_service.faults import describe
from guide_service.wiring import Service

log = logging.getLogger(__name__)

PAGES = ("/console", "/log")
"""Addresses below which an error is a page; elsewhere it is for programs."""
_SIGNS = "23456789BCDFGHJKMNPQRTVWXY"
"""Of a request number: none that is taken for another when it is read out."""
_TRY_LATER = N_("Nothing was changed. Try it again in a minute. If it stays so, tell whoever looks after this service.")
WORDS = {
    403: (
        N_("This form is too old"),
        N_("Nothing was changed. Load the page again and send the form once more: what you wrote is still there."),
    ),
    404: (N_("Nothing is here"), N_("It does not exist, or it belongs to another office.")),
    405: (N_("Nothing is here"), N_("Begin at one of the pages named at the top.")),
    409: (
        N_("That can no longer be done"),
        N_("Something has changed since the page was loaded. Nothing was changed by you. Load it again and look."),
    ),
    413: (N_("That is too much for one form"), N_("Nothing was changed. Shorten it: what you wrote is still there.")),
    422: (
        N_("Something in the form does not fit"),
        N_("A field is missing, or holds what is not possible there. Nothing was changed, and what you wrote is still "
           "there: look at it once more."),
    ),
}  # fmt: skip
_BACK = (
    (re.compile(r"(/console/households/\d{1,19})/.+"), N_("Back to the household")),
    (re.compile(r"(/console/policy/[a-z]+)"), N_("Back to the form")),
    (re.compile(r"(/console/rounds/\d{1,19})"), N_("Back to the house")),
    (re.compile(r"(/console/notices/\d{1,19})/.+"), N_("Back to the notice")),
    (re.compile(r"(/console/records)/.+"), N_("Back to the records")),
    (re.compile(r"(/console/texts/[a-z-]{2,8})/.+"), N_("Back to the texts")),
)


def problem(request: Request, service: Service, status: int, fault: BaseException | None = None) -> HTMLResponse:
    """The page of an error, in the frame of the others for whoever is signed in."""
    number = request_number()
    if fault is not None:
        log.error("request %s: %s %s: %s", number, request.method, _route(request), describe(fault))
    else:
        log.info("request %s: %s %s: answered with %s", number, request.method, _route(request), status)
    heading, explanation = WORDS.get(status, (N_("That did not work"), _TRY_LATER))
    return page(
        request, service, "problem.html", whoever_it_is(request, service), status,
        heading=gettext(heading), explanation=gettext(explanation), number=number, back=_back(request, status),
    )  # fmt: skip


def request_number() -> str:
    """ "K7V-4QD": short enough to be read out; 300 million of them."""
    signs = "".join(secrets.choice(_SIGNS) for _ in range(6))
    return f"{signs[:3]}-{signs[3:]}"


def _back(request: Request, status: int) -> tuple[str, str] | None:
    """Where the form stood, and what the link says. Not where there is nothing."""
    if request.method != "POST" or status == 404:
        return None
    for pattern, label in _BACK:
        if found := pattern.fullmatch(request.url.path):
            return found[1], gettext(label)
    return None


def _route(request: Request) -> str:
    """The address as a pattern: which household it was is nobody's business in a log."""
    return str(getattr(request.scope.get("route"), "path", "an address that is no page"))


class FaultPages:
    """A failure in a page becomes a page (plain ASGI, inside of the headers, so that it has them too)."""

    def __init__(self, app: Any, service: Service) -> None:
        self.app, self.service = app, service

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] != "http" or not scope["path"].startswith(PAGES):
            await self.app(scope, receive, send)
            return
        begun = False

        async def watched(message: Any) -> None:
            nonlocal begun
            begun = True
            await send(message)

        try:
            await self.app(scope, receive, watched)
        except Exception as fault:
            if begun:
                raise
            await problem(Request(scope), self.service, 500, fault)(scope, receive, send)


def install_problems(app: FastAPI) -> None:
    app.add_middleware(FaultPages, service=app.state.service)
