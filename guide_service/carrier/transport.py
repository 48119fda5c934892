"""The carrier's package over our own HTTP client: time-outs that hold, and silence about numbers.

The package's own client waits for ever by default and logs addresses and query parameters, phone numbers among them.
"""

from __future__ import annotations

import json
import logging
from typing import Any

import httpx
from twilio.http import HttpClient
from twilio.http.response import Response

TIMEOUT = httpx.Timeout(10.0, connect=5.0)
"""[s] for connecting 5, for everything else 10. Our choice: a worker must not hang on one text."""

_TALKATIVE = ("httpx", "httpcore", "twilio", "twilio.http_client")


class TooManyRequests(Exception):
    """HTTP 429. The package's own exception would lose the headers."""

    def __init__(self, code: int | None, retry_after: float | None) -> None:
        super().__init__("the carrier asks for fewer requests")
        self.code = code
        self.retry_after = retry_after


class HttpxTwilioClient(HttpClient):  # type: ignore[misc]  # the package is untyped
    """What the carrier's package calls instead of ``requests``."""

    def __init__(self, client: httpx.Client) -> None:
        super().__init__(logging.getLogger("guide_service.carrier"), is_async=False)
        self._client = client

    def request(
        self,
        method: str,
        uri: str,
        params: dict[str, Any] | None = None,
        data: dict[str, Any] | None = None,
        headers: dict[str, str] | None = None,
        auth: tuple[str, str] | None = None,
        timeout: float | None = None,
        allow_redirects: bool = False,
    ) -> Response:
        answer = self._client.request(
            method.upper(),
            uri,
            params=params,
            data=data,
            headers=headers,
            auth=auth,
            timeout=self._client.timeout if timeout is None else timeout,
            follow_redirects=allow_redirects,
        )
        if answer.status_code == 429:
            raise TooManyRequests(_code_in(answer.text), _seconds(answer.headers.get("Retry-After", "")))
        return Response(answer.status_code, answer.text, answer.headers)


def quiet_client(timeout: httpx.Timeout = TIMEOUT, transport: httpx.BaseTransport | None = None) -> httpx.Client:
    """A client whose loggers, and the package's, tell nothing below a warning: addresses hold numbers."""
    for name in _TALKATIVE:
        logging.getLogger(name).setLevel(logging.WARNING)
    return httpx.Client(timeout=timeout, transport=transport)


def _code_in(text: str) -> int | None:
    try:
        code = json.loads(text)["code"]
    except (ValueError, KeyError, TypeError):
        return None
    return code if isinstance(code, int) else None


def _seconds(retry_after: str) -> float | None:
    # the header may also be a date; without a number our own back-off decides
    return float(retry_after) if retry_after.isascii() and retry_after.isdigit() else None
