"""A webhook of the carrier: its raw form, read only when the signature fits."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import TypeVar

from fastapi import Request, Response

from guide_service.carrier.form import FormError, parse_form
from guide_service.carrier.signature import is_genuine, public_url_of
from guide_service.settings import Settings

Form = TypeVar("Form")
Pairs = list[tuple[str, str]]
Handler = Callable[[Request], Awaitable[Response]]


def signed(
    settings: Settings, read: Callable[[Pairs, bytes], Form], act: Callable[[Form], Awaitable[Response]]
) -> Handler:
    """What answers a webhook: 403 to a forged one, of which nothing is read and nothing is stored, 400 to one that
    ``read`` refuses with ``FormError``, else what ``act`` makes of it.

    ``read`` is given the form and the raw query of the address.
    """
    token, public = settings.auth_token, settings.address

    async def handle(request: Request) -> Response:
        path, query = request.scope["raw_path"], request.scope["query_string"]
        try:
            pairs = parse_form(await request.body())
            url = public_url_of(public, path, query)
            if not is_genuine(url, pairs, request.headers.get("x-twilio-signature", ""), token):
                return Response(status_code=403)
            form = read(pairs, query)
        except FormError as problem:
            return Response(str(problem), 400, media_type="application/problem+text")
        return await act(form)

    return handle
