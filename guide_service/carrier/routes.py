"""The carrier's webhooks: read the raw form, check its signature, do the one thing, answer in the carrier's grammar."""

from __future__ import annotations

import asyncio
import logging

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool

from guide_service.carrier.form import FormError, InboundText, inbound_text, parse_form, status_address, status_report
from guide_service.carrier.signature import is_genuine, public_url_of
from guide_service.carrier.twiml import CONTENT_TYPE, message_reply
from guide_service.cooperating import on_the_loop
from guide_service.followup.delivery_reports import apply_status
from guide_service.turn import take_turn
from guide_service.wiring import Service

TURNS_AT_ONCE = 3
"""Turns that are under way where a database server answers: their waits overlap, and who came first is answered first.
On SQLite one after the other: one file has one writer."""
log = logging.getLogger(__name__)
Pairs = list[tuple[str, str]]


class Forged(Exception):
    """The signature does not fit: nothing is read, nothing is stored."""


def router(service: Service) -> APIRouter:
    routes = APIRouter(include_in_schema=False)
    token, public = service.settings.auth_token, service.settings.address
    one_writer = service.engine.dialect.name == "sqlite"
    turns = asyncio.Semaphore(TURNS_AT_ONCE)

    async def genuine_form(request: Request) -> Pairs:
        pairs = parse_form(await request.body())
        url = public_url_of(public, request.scope["raw_path"], request.scope["query_string"])
        if not is_genuine(url, pairs, request.headers.get("x-twilio-signature", ""), token):
            raise Forged
        return pairs

    async def sms(request: Request) -> Response:
        try:
            inbound = inbound_text(await genuine_form(request))
        except Forged:
            return Response(status_code=403)
        except FormError as problem:
            return Response(str(problem), 400, media_type="application/problem+text")
        if one_writer:
            return _answer(service, inbound)
        async with turns:  # who hangs up meanwhile does not stop it
            return await asyncio.shield(on_the_loop(_answer, service, inbound))

    async def status(request: Request) -> Response:
        try:
            report = status_report(await genuine_form(request), request.scope["query_string"])
        except Forged:
            return Response(status_code=403)
        except FormError as problem:
            return Response(str(problem), 400, media_type="application/problem+text")
        await run_in_threadpool(apply_status, service, report)
        return Response(status_code=204)

    # plain routes: nothing of these requests is for the framework to look into
    routes.add_route("/carrier/sms", sms, methods=["POST"])
    routes.add_route("/carrier/status", status, methods=["POST"])
    return routes


def _answer(service: Service, inbound: InboundText) -> Response:
    answer = take_turn(service, inbound)
    public = service.settings.address
    texts = [(body, status_address(public, str(row))) for row, body in answer.texts]
    return Response(message_reply(texts), media_type=CONTENT_TYPE)
