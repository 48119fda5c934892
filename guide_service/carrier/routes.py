"""The carrier's webhooks of texts: a text is one turn, a report settles what was sent."""

from __future__ import annotations

import asyncio

from fastapi import APIRouter, Response
from fastapi.concurrency import run_in_threadpool

from guide_service.carrier.form import InboundText, StatusReport, inbound_text, status_address, status_report
from guide_service.carrier.twiml import CONTENT_TYPE, message_reply
from guide_service.carrier.webhook import signed
from guide_service.cooperating import on_the_loop
from guide_service.followup.delivery_reports import apply_status
from guide_service.turn import take_turn
from guide_service.wiring import Service

TURNS_AT_ONCE = 3
"""Turns that are under way where a database server answers: their waits overlap, and who came first is answered first.
On SQLite one after the other: one file has one writer."""


def router(service: Service) -> APIRouter:
    routes = APIRouter(include_in_schema=False)
    one_writer = service.engine.dialect.name == "sqlite"
    turns = asyncio.Semaphore(TURNS_AT_ONCE)

    async def sms(inbound: InboundText) -> Response:
        if one_writer:
            return _answer(service, inbound)
        async with turns:  # who hangs up meanwhile does not stop it
            return await asyncio.shield(on_the_loop(_answer, service, inbound))

    async def status(report: StatusReport) -> Response:
        await run_in_threadpool(apply_status, service, report)
        return Response(status_code=204)

    heard = signed(service.settings, lambda pairs, _query: inbound_text(pairs), sms)
    reported = signed(service.settings, status_report, status)
    # plain routes: nothing of these requests is for the framework to look into
    routes.add_route("/carrier/sms", heard, methods=["POST"])
    routes.add_route("/carrier/status", reported, methods=["POST"])
    return routes


def _answer(service: Service, inbound: InboundText) -> Response:
    answer = take_turn(service, inbound)
    public = service.settings.address
    texts = [(body, status_address(public, str(row))) for row, body in answer.texts]
    return Response(message_reply(texts), media_type=CONTENT_TYPE)
