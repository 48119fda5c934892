"""The carrier's webhooks: read the raw form, check its signature, do the one thing, answer in the carrier's grammar."""

from __future__ import annotations

import asyncio
import logging
from concurrent.futures import ThreadPoolExecutor

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool

from guide_service.carrier.form import FormError, InboundText, inbound_text, parse_form, status_address, status_report
from guide_service.carrier.signature import is_genuine, public_url_of
from guide_service.carrier.twiml import CONTENT_TYPE, message_reply
from guide_service.followup.delivery_reports import apply_status
from guide_service.turn import take_turn
from guide_service.wiring import Service

TURNS_AT_ONCE = 3
"""Threads that take turns where a database server answers: the waits overlap, and with more of them the slowest answers
get slower. On SQLite the event loop takes them itself: one file has one writer, so that a second thread only takes the
interpreter from the first (measured: a turn in a thread costs an eighth more)."""
log = logging.getLogger(__name__)
Pairs = list[tuple[str, str]]


class Forged(Exception):
    """The signature does not fit: nothing is read, nothing is stored."""


def router(service: Service) -> APIRouter:
    routes = APIRouter(include_in_schema=False)
    token, public = service.settings.auth_token, service.settings.address
    one_writer = service.engine.dialect.name == "sqlite"
    turns = ThreadPoolExecutor(TURNS_AT_ONCE, "turn")

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
        return await asyncio.get_running_loop().run_in_executor(turns, _answer, service, inbound)

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
