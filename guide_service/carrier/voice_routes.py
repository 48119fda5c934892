"""The carrier's webhooks of a call: each takes one step of it and says what is heard next."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse

from guide_service.calls import answering
from guide_service.calls.call import Ring
from guide_service.calls.ending import call_ended, word_left
from guide_service.calls.hearing import Given
from guide_service.calls.prompt import Utterance
from guide_service.calls.script import Script
from guide_service.carrier.twiml import CONTENT_TYPE
from guide_service.carrier.voice_form import CallRequest, call_request, query_number
from guide_service.carrier.voice_twiml import accept_prompt, accepted, voice_answer
from guide_service.carrier.webhook import Pairs, signed
from guide_service.wiring import Service
from guide_service.wording.recorded import FOLDER, file_of, recorded_parts

TAKES_THE_CALL = "1"


@dataclass(frozen=True, slots=True)
class OfCall:
    """One webhook of a call: what the carrier tells, whose call it is, and the step that its address names."""

    told: CallRequest
    ring: Ring
    step: int


Step = Callable[[Service, OfCall], Utterance]


def voice_router(service: Service) -> APIRouter:
    routes = APIRouter(include_in_schema=False)

    def on(path: str, act: Callable[[OfCall], Awaitable[Response]]) -> None:
        routes.add_route(f"/carrier/voice{path}", signed(service.settings, _of_call, act), methods=["POST"])

    on("", partial(_take, service, _begun))
    on("/answer", partial(_take, service, _answered))
    on("/dialled", partial(_take, service, _dialled))
    on("/word", partial(_take, service, _word))
    on("/status", partial(_ended, service))
    on("/accept", partial(_accept, service))
    on("/accepted", _accepted)
    routes.add_route("/carrier/voice/recordings/{language}/{name}", partial(_recording, service), methods=["GET"])
    return routes


def _of_call(pairs: Pairs, query: bytes) -> OfCall:
    told = call_request(pairs)
    ring = Ring(told.sid, told.number, told.trusted, query_number(query, "call"))
    return OfCall(told, ring, query_number(query, "step") or 0)


async def _take(service: Service, step: Step, of: OfCall) -> Response:
    """One step of the call, and what is heard next."""
    said = await run_in_threadpool(step, service, of)
    return _xml(voice_answer(said, service.settings.address, service.locales, of.ring.ours))


def _begun(service: Service, of: OfCall) -> Utterance:
    return answering.begin(service, of.ring)


def _answered(service: Service, of: OfCall) -> Utterance:
    return answering.answer(service, of.ring, of.step, Given(of.told.digits, of.told.words, of.told.confidence))


def _dialled(service: Service, of: OfCall) -> Utterance:
    return answering.dialled(service, of.ring, of.step, taken=of.told.dialled in ("completed", "answered"))


def _word(service: Service, of: OfCall) -> Utterance:
    return word_left(service, of.ring, of.step, of.told.recording, of.told.seconds)


async def _ended(service: Service, of: OfCall) -> Response:
    await run_in_threadpool(call_ended, service, of.told.sid, of.told.status, of.ring.ours)
    return Response(status_code=204)


async def _accept(service: Service, _of: OfCall) -> Response:
    """Heard by the agent whose phone rings."""
    words = Script(service, service.county.languages[0]).say("call.accept")
    return _xml(accept_prompt(words, f"{service.settings.address}/carrier/voice/accepted", service.locales))


async def _accepted(of: OfCall) -> Response:
    return _xml(accepted(of.told.digits == TAKES_THE_CALL))


async def _recording(service: Service, request: Request) -> Response:
    language, name = request.path_params["language"], request.path_params["name"]
    known = {file_of(part) for part in recorded_parts(service.locales, language)} if language.isalpha() else set()
    if name not in known:
        return Response(status_code=404)
    return FileResponse(service.locales / language / FOLDER / name, media_type="audio/wav")


def _xml(document: bytes) -> Response:
    return Response(document, media_type=CONTENT_TYPE)
