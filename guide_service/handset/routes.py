"""The practice phone's page and its few addresses. They exist in the demo only.

Everything that changes something takes JSON, which no form of another site can send without asking first.
"""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Annotated, Any, cast

import httpx
from fastapi import APIRouter, Depends, FastAPI, HTTPException, Query, Request
from fastapi.responses import FileResponse, JSONResponse
from fastapi.staticfiles import StaticFiles
from pydantic import BaseModel, Field

from guide_service.clock import DatabaseClock
from guide_service.console.access import POLICY
from guide_service.handset.call_routes import router as call_router
from guide_service.handset.carrier_side import (
    CarrierSide,
    NoPracticeNumber,
    Reply,
    WebhookRefused,
    new_sid,
    practice_number,
)
from guide_service.handset.practice_calls import PracticeCalls
from guide_service.handset.texts import RECEIVED, SENT, as_json, keep, numbers, texts_of
from guide_service.wiring import Service

HERE = Path(__file__).parent
MOST_MINUTES = 60 * 24 * 366
router = APIRouter(prefix="/handset", include_in_schema=False)


class TextSent(BaseModel):
    number: str
    body: str = Field(max_length=1600)


class ClockMoved(BaseModel):
    advance_minutes: int = Field(ge=0, le=MOST_MINUTES)


def install_handset(app: FastAPI, http: httpx.Client | None = None) -> None:
    """``http``: a client of the tests' own for the way to our webhooks."""
    service = cast("Service", app.state.service)
    app.state.carrier_side = CarrierSide(service.settings, http)
    app.state.practice_calls = PracticeCalls(app.state.carrier_side)
    app.include_router(router)
    app.include_router(call_router)
    app.add_exception_handler(NoPracticeNumber, _no_practice_number)
    app.mount("/handset/static", StaticFiles(directory=HERE / "static"), name="handset-static")


def _no_practice_number(_request: Request, problem: Exception) -> JSONResponse:
    return JSONResponse({"detail": str(problem)}, 422)


def _service(request: Request) -> Service:
    return cast("Service", request.app.state.service)


def _carrier(request: Request) -> CarrierSide:
    return cast("CarrierSide", request.app.state.carrier_side)


ServiceDep = Annotated[Service, Depends(_service)]
CarrierDep = Annotated[CarrierSide, Depends(_carrier)]


@router.get("")
def practice_phone() -> FileResponse:
    page = HERE / "templates" / "phone.html"
    return FileResponse(page, headers={"Content-Security-Policy": POLICY})


@router.get("/numbers")
def known_numbers(service: ServiceDep) -> dict[str, Any]:
    return {"numbers": numbers(service.engine), "service": service.settings.number, **_now(service)}


@router.get("/texts")
def read_texts(service: ServiceDep, number: Annotated[str, Query(max_length=20)]) -> dict[str, Any]:
    return {"texts": [as_json(row) for row in texts_of(service.engine, practice_number(number))], **_now(service)}


@router.post("/texts")
def send_text(service: ServiceDep, carrier: CarrierDep, sent: TextSent) -> dict[str, Any]:
    """Sends a text as the person would; the answer holds the new texts of this phone."""
    number, sid = practice_number(sent.number), new_sid()
    rows = [keep(service.engine, number, SENT, sent.body, sid, service.clock.now())]
    try:
        answers = carrier.send_in(number, sent.body, sid)
    except (httpx.HTTPError, WebhookRefused) as problem:
        raise HTTPException(502, f"the text did not reach the service: {problem}") from None
    for answer in answers:
        rows.append(_receive(service, carrier, number, answer))
    return {"texts": [as_json(row) for row in rows], **_now(service)}


@router.post("/clock")
def move_clock(service: ServiceDep, moved: ClockMoved) -> dict[str, str]:
    if not isinstance(service.clock, DatabaseClock):
        raise HTTPException(409, "this service's clock cannot be moved")
    service.clock.advance(moved.advance_minutes)
    return _now(service)


def _receive(service: Service, carrier: CarrierSide, number: str, answer: Reply) -> Any:
    sid = new_sid()
    row = keep(service.engine, number, RECEIVED, answer.body, sid, service.clock.now())
    if answer.status_url:
        report = threading.Thread(target=carrier.report, args=(answer.status_url, sid, number), daemon=True)
        report.start()
    return row


def _now(service: Service) -> dict[str, str]:
    now = service.clock.now()
    return {"now": now.astimezone(service.county.zone(None)).isoformat(timespec="seconds")}
