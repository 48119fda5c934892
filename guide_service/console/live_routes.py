"""The streams of the live pages, and the parts that they ask for."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from typing import Annotated, cast

from fastapi import APIRouter, FastAPI, Query, Request
from fastapi.responses import Response, StreamingResponse

from guide_service.console import live
from guide_service.console.access import AgentDep, ServiceDep, row_id
from guide_service.console.household_file import household_in_scope
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)
Seen = Annotated[str, Query(max_length=16, pattern="^[0-9a-f]*$")]


def install_live(app: FastAPI) -> None:
    service = cast("Service", app.state.service)
    app.state.streams, app.state.watch = live.Streams(), live.Watch(service)
    app.include_router(router)


@router.get("/console/waiting/stream")
def waiting_stream(request: Request, service: ServiceDep, who: AgentDep, seen: Seen = "") -> Response:
    return _stream(request, service, who, seen, request.app.state.watch.now)


@router.get("/console/households/{household}/stream")
def household_stream(request: Request, service: ServiceDep, who: AgentDep, household: str, seen: Seen = "") -> Response:
    with reading(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, row_id(household))

    def mark() -> str:
        with reading(service.engine) as session:
            return live.household_mark(session, home.id)

    return _stream(request, service, who, seen, mark)


def _stream(request: Request, service: Service, who: SignedIn, seen: str, mark: Callable[[], str]) -> Response:
    """204 when too many are open: the page then asks every minute, as it does beside a stream."""
    streams = cast("live.Streams", request.app.state.streams)
    if not streams.has_room(who.token_key):
        return Response(status_code=204)
    stopping = getattr(request.app.state, "stopping", lambda: False)

    async def events() -> AsyncIterator[str]:
        if not streams.enter(who.token_key):  # only here: a browser that goes at once never begins
            return
        try:
            async for event in live.changes(service, who, seen, mark, stopping):
                yield event
        finally:
            streams.leave(who.token_key)

    return StreamingResponse(events(), media_type="text/event-stream", headers={"X-Accel-Buffering": "no"})
