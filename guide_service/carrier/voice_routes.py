"""The carrier's webhooks of a call: read the raw form, check its signature, take one step, answer in its grammar."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse

from guide_service.calls import answering
from guide_service.calls.call import Ring
from guide_service.calls.ending import call_ended, word_left
from guide_service.calls.hearing import Given
from guide_service.calls.prompt import Utterance
from guide_service.calls.script import Script
from guide_service.carrier.form import FormError, parse_form
from guide_service.carrier.signature import is_genuine, public_url_of
from guide_service.carrier.twiml import CONTENT_TYPE
from guide_service.carrier.voice_form import CallRequest, call_request, query_number
from guide_service.carrier.voice_twiml import accept_prompt, accepted, voice_answer
from guide_service.wiring import Service
from guide_service.wording.recorded import FOLDER, file_of, recorded_parts

TAKES_THE_CALL = "1"
Step = Callable[[CallRequest, Ring, int], Utterance]
Handler = Callable[[Request], Awaitable[Response]]


def voice_router(service: Service) -> APIRouter:
    routes = APIRouter(include_in_schema=False)
    token, public = service.settings.auth_token, service.settings.address

    async def genuine(request: Request) -> CallRequest | Response:
        try:
            pairs = parse_form(await request.body())
            url = public_url_of(public, request.scope["raw_path"], request.scope["query_string"])
            if not is_genuine(url, pairs, request.headers.get("x-twilio-signature", ""), token):
                return Response(status_code=403)
            return call_request(pairs)
        except FormError as problem:
            return Response(str(problem), 400, media_type="application/problem+text")

    def step_of(take: Step) -> Handler:
        """A webhook that takes one step of a call and says what is heard next."""

        async def handle(request: Request) -> Response:
            called = await genuine(request)
            if isinstance(called, Response):
                return called
            query = request.scope["query_string"]
            ours = query_number(query, "call")
            ring = Ring(called.sid, called.number, called.trusted, ours)
            said = await run_in_threadpool(take, called, ring, query_number(query, "step") or 0)
            return _xml(voice_answer(said, public, service.locales, ours))

        return handle

    async def status(request: Request) -> Response:
        called = await genuine(request)
        if isinstance(called, Response):
            return called
        ours = query_number(request.scope["query_string"], "call")
        await run_in_threadpool(call_ended, service, called.sid, called.status, ours)
        return Response(status_code=204)

    async def accept(request: Request) -> Response:
        called = await genuine(request)
        if isinstance(called, Response):
            return called
        words = Script(service, service.county.languages[0]).say("call.accept")
        return _xml(accept_prompt(words, f"{public}/carrier/voice/accepted", service.locales))

    async def taken(request: Request) -> Response:
        called = await genuine(request)
        return called if isinstance(called, Response) else _xml(accepted(called.digits == TAKES_THE_CALL))

    async def recording(request: Request) -> Response:
        language, name = request.path_params["language"], request.path_params["name"]
        known = {file_of(part) for part in recorded_parts(service.locales, language)} if language.isalpha() else set()
        if name not in known:
            return Response(status_code=404)
        return FileResponse(service.locales / language / FOLDER / name, media_type="audio/wav")

    add = routes.add_route
    add("/carrier/voice", step_of(lambda _c, ring, _s: answering.begin(service, ring)), methods=["POST"])
    add("/carrier/voice/answer", step_of(lambda c, ring, s: _answered(service, c, ring, s)), methods=["POST"])
    add("/carrier/voice/dialled", step_of(lambda c, ring, s: _dialled(service, c, ring, s)), methods=["POST"])
    add("/carrier/voice/word", step_of(lambda c, ring, s: _word(service, c, ring, s)), methods=["POST"])
    add("/carrier/voice/status", status, methods=["POST"])
    add("/carrier/voice/accept", accept, methods=["POST"])
    add("/carrier/voice/accepted", taken, methods=["POST"])
    add("/carrier/voice/recordings/{language}/{name}", recording, methods=["GET"])
    return routes


def _answered(service: Service, called: CallRequest, ring: Ring, step: int) -> Utterance:
    return answering.answer(service, ring, step, Given(called.digits, called.words, called.confidence))


def _dialled(service: Service, called: CallRequest, ring: Ring, step: int) -> Utterance:
    return answering.dialled(service, ring, step, taken=called.dialled in ("completed", "answered"))


def _word(service: Service, called: CallRequest, ring: Ring, step: int) -> Utterance:
    return word_left(service, ring, step, called.recording, called.seconds)


def _xml(document: bytes) -> Response:
    return Response(document, media_type=CONTENT_TYPE)
