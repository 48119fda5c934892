"""The practice phone's addresses for calls. They exist in the demo only."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, cast

import httpx
from fastapi import APIRouter, Depends, HTTPException, Request
from pydantic import BaseModel, Field

from guide_service.handset.carrier_side import WebhookRefused, practice_number
from guide_service.handset.practice_calls import NoSuchCall, PracticeCall, PracticeCalls
from guide_service.wiring import Service

router = APIRouter(prefix="/handset/calls", include_in_schema=False)


class CallPlaced(BaseModel):
    number: str
    shown: bool = True


class Answered(BaseModel):
    """One of them; none is silence."""

    keys: str = Field(default="", max_length=64, pattern=r"^[0-9*#]*$")
    words: str = Field(default="", max_length=1000)
    agent: bool | None = None
    """Whether the agent whose phone rings takes the call."""
    left_seconds: int | None = Field(default=None, ge=0, le=120)
    """A message was left, so long."""


def _calls(request: Request) -> PracticeCalls:
    return cast("PracticeCalls", request.app.state.practice_calls)


CallsDep = Annotated[PracticeCalls, Depends(_calls)]


@router.post("")
def place_call(calls: CallsDep, placed: CallPlaced) -> dict[str, Any]:
    number = practice_number(placed.number)
    return _carried(lambda: calls.place(number, shown=placed.shown))


@router.post("/{sid}")
def answer(calls: CallsDep, sid: str, given: Answered) -> dict[str, Any]:
    def step() -> PracticeCall:
        if given.agent is not None:
            return calls.agent_answers(sid, given.agent)
        if given.left_seconds is not None:
            return calls.leave_word(sid, given.left_seconds)
        if given.keys:
            return calls.keys(sid, given.keys)
        return calls.words(sid, given.words) if given.words.strip() else calls.silence(sid)

    return _carried(step)


@router.post("/{sid}/take")
def take_call(request: Request, calls: CallsDep, sid: str, _nothing: Answered) -> dict[str, Any]:
    """Picks up a call that rings."""
    engine = cast("Service", request.app.state.service).engine
    return _carried(lambda: calls.take(engine, sid))


@router.post("/{sid}/end", status_code=204)
def hang_up(calls: CallsDep, sid: str, _nothing: Answered) -> None:
    try:
        calls.hang_up(sid)
    except (httpx.HTTPError, WebhookRefused):
        return  # the service was not there to hear of it: a call that is not over ends by itself


def _carried(step: Callable[[], PracticeCall]) -> dict[str, Any]:
    try:
        call = step()
    except NoSuchCall:
        raise HTTPException(409, "this call is over; call again, your place is kept") from None
    except (httpx.HTTPError, WebhookRefused) as problem:
        raise HTTPException(502, f"the call was cut off: {problem}") from None
    return {"call": call.sid, **call.last.as_json()}
