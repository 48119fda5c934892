"""In which language a request is answered: the account's, else the one chosen on the sign-in page, else the browser's.

A page asks for another by ``?in_language=es``, which a cookie keeps; whoever is signed in chooses on the account page.
"""

from __future__ import annotations

from typing import Any

from babel import negotiate_locale
from fastapi import Request

from guide_service.console.catalogue import SOURCE_LANGUAGE, SPOKEN, Spoken, languages

ASKED = "in_language"
COOKIE = "guide_language"
KEPT_SECONDS = 365 * 24 * 3600


class Tongues:
    """Begins each request to the pages in the language that was asked for or that the browser prefers (plain ASGI)."""

    def __init__(self, app: Any, cookie: str) -> None:
        self.app, self.cookie = app, cookie

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] != "http" or not scope["path"].startswith(("/console", "/log")):
            await self.app(scope, receive, send)
            return
        before = SPOKEN.set(Spoken(self._language(Request(scope))))
        try:
            await self.app(scope, receive, send)
        finally:
            SPOKEN.reset(before)

    def _language(self, request: Request) -> str:
        chosen = asked(request) or request.cookies.get(self.cookie, "")
        return chosen if chosen in languages() else negotiated(request.headers.get("accept-language", ""))


def asked(request: Request) -> str:
    """The language that a page's address asks for, if it is one of ours."""
    wanted = request.query_params.get(ASKED, "")
    return wanted if wanted in languages() else ""


def choose(language: str | None) -> None:
    """The rest of this request is answered in it, if the pages can be read in it."""
    spoken = SPOKEN.get(None)
    if spoken is not None and language in languages():
        spoken.language = language


def negotiated(accept_language: str) -> str:
    """The best of ours for a browser's ``Accept-Language`` (RFC 9110, 12.5.4)."""
    wanted: list[tuple[float, str]] = []
    for part in accept_language.split(","):
        tag, _, weight = part.partition(";")
        try:
            quality = float(weight.partition("=")[2]) if weight else 1.0
        except ValueError:
            continue
        if quality > 0 and tag.strip():
            wanted.append((-quality, tag.strip().lower()))
    in_order = [tag for _, tag in sorted(wanted, key=lambda each: each[0])]
    ours = {each.lower(): each for each in languages()}
    return ours.get(negotiate_locale(in_order, ours, sep="-") or "", SOURCE_LANGUAGE)
