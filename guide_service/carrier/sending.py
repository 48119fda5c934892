"""Texts out through the carrier's API, and the search for one that may have gone out.

The API knows no idempotency key: when an answer is lost, nobody can tell whether the text was sent, and a blind retry
would text twice. So every end of a send is a value, and only a look-up turns ``Ambiguous`` into something else.
No number, no body and no message of the carrier (which quotes numbers) goes into a log or an exception.
"""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Callable, Collection

import httpx
from twilio.base.exceptions import TwilioException, TwilioRestException, TwilioServiceException
from twilio.rest import Client
from twilio.rest.api.v2010.account.message import MessageInstance

from guide_service.carrier import kept
from guide_service.carrier.kept import Kept
from guide_service.carrier.phone_numbers import E164
from guide_service.carrier.sender import (
    Accepted,
    Ambiguous,
    LookUpFailed,
    RateLimited,
    Refused,
    Sender,
    SendResult,
    reason_to_refuse,
)
from guide_service.carrier.transport import HttpxTwilioClient, TooManyRequests, quiet_client

__all__ = [
    "Accepted",
    "Ambiguous",
    "CarrierSender",
    "LookUpFailed",
    "RateLimited",
    "Refused",
    "SendResult",
    "Sender",
]

log = logging.getLogger(__name__)

CLOCK_ALLOWANCE = dt.timedelta(seconds=60)
"""How far the carrier's clock and ours may differ in a look-up. Our choice."""
LOOK_UP_LIMIT = 100
"""Messages to one number that a look-up reads: far more than we send to anyone within a validity period."""

_FROM_US = ("outbound-api", "outbound-reply")
"""Also replies in the answer to a webhook: one that was never heard of is looked up like a text of ours."""
_NOT_PROCESSED = (429, 20429)
_NO_CONNECTION = (httpx.ConnectError, httpx.ConnectTimeout, httpx.PoolTimeout, httpx.ProxyError)
_UNREADABLE = (ValueError, KeyError, TypeError, AttributeError)
"""What the package raises on an answer that is not the JSON that it expects."""

# ``environment={}`` would still read TWILIO_* from the process: the package asks ``environment or os.environ``
_NO_ENVIRONMENT = {"NOTHING_FROM_THE_ENVIRONMENT": "1"}


class CarrierSender:
    """The real sender. One instance serves many threads; ``close`` it at the end."""

    def __init__(self, account_sid: str, auth_token: str, number: str, http: httpx.Client | None = None) -> None:
        if not account_sid or not auth_token:  # the package would call unauthenticated
            raise ValueError("the carrier's account id and token are needed")
        self._number, self._account = number, (account_sid, auth_token)
        self._http = http or quiet_client()
        transport = HttpxTwilioClient(self._http)
        self._api = Client(account_sid, auth_token, http_client=transport, environment=_NO_ENVIRONMENT)

    def send_text(self, to: str, body: str, status_callback: str | None, validity_seconds: int) -> SendResult:
        refused = reason_to_refuse(E164.fullmatch(to) is not None, body, validity_seconds)
        if refused:
            return refused
        return _end_of(lambda: self._create(to, body, status_callback, validity_seconds), _text_limited)

    def place_call(self, to: str, url: str, status_callback: str, ring_seconds: int) -> SendResult:
        if E164.fullmatch(to) is None:
            return Refused(21217, 0)
        return _end_of(
            lambda: self._call(to, url, status_callback, ring_seconds), lambda limited: RateLimited(limited.retry_after)
        )

    def find_sent(
        self, to: str, body: str, since: dt.datetime, our_reference: str, known_sids: Collection[str] = ()
    ) -> str | None:
        if since.tzinfo is None:
            raise ValueError("since needs a time zone")
        try:
            return self._first_match(to, body, since, known_sids)
        except (httpx.HTTPError, httpx.InvalidURL, TwilioException, TooManyRequests, *_UNREADABLE) as error:
            failure = type(error).__name__
        # raised outside the handler: the carrier's exception, which may quote a number, must not hang on to ours
        log.warning("look-up of outbound row %s failed: %s", our_reference, failure)
        raise LookUpFailed(failure)

    def fetch(self, resource: str) -> Kept | None:
        return kept.fetch(self._http, *self._account, resource)

    def erase(self, resource: str) -> None:
        kept.erase(self._http, *self._account, resource)

    def close(self) -> None:
        self._http.close()

    def _create(self, to: str, body: str, status_callback: str | None, validity_seconds: int) -> SendResult:
        optional = {"status_callback": status_callback} if status_callback else {}
        message = self._api.messages.create(
            to=to, from_=self._number, body=body, validity_period=validity_seconds, **optional
        )
        if not message.sid:
            return Ambiguous("answer without a sid")
        return Accepted(message.sid, str(message.status or "queued"), int(message.num_segments or 0))

    def _call(self, to: str, url: str, status_callback: str, ring_seconds: int) -> SendResult:
        call = self._api.calls.create(
            to=to, from_=self._number, url=url, method="POST", timeout=ring_seconds,
            status_callback=status_callback, status_callback_method="POST", status_callback_event=["completed"],
        )  # fmt: skip
        return Accepted(call.sid, str(call.status or "queued"), 0) if call.sid else Ambiguous("answer without a sid")

    def _first_match(self, to: str, body: str, since: dt.datetime, known_sids: Collection[str]) -> str | None:
        # The date filter looks at the day of sending, which a text still in the queue does not have yet: when it finds
        # nothing, the newest messages are read once more without it.
        earliest = since.astimezone(dt.UTC).replace(microsecond=0) - CLOCK_ALLOWANCE
        for after in ({"date_sent_after": earliest}, {}):
            messages = self._api.messages.list(to=to, from_=self._number, limit=LOOK_UP_LIMIT, **after)
            ours = [each for each in messages if _is_ours(each, body, earliest) and each.sid not in known_sids]
            if ours:
                return str(min(ours, key=lambda each: each.date_created or earliest).sid)
        return None


def _is_ours(message: MessageInstance, body: str, earliest: dt.datetime) -> bool:
    created = message.date_created or message.date_sent
    return (
        message.direction in _FROM_US
        and (message.body or "").strip() == body.strip()
        and (created is None or created >= earliest)
    )


def _end_of(ask: Callable[[], SendResult], limited: Callable[[TooManyRequests], SendResult]) -> SendResult:
    """What became of a request that must not be made twice by mistake."""
    try:
        return ask()
    except TooManyRequests as error:
        return limited(error)
    except (TwilioRestException, TwilioServiceException) as error:
        return _refusal(error)
    except _NO_CONNECTION as error:
        return Ambiguous(type(error).__name__, may_be_out=False)
    except (httpx.HTTPError, httpx.InvalidURL, TwilioException, *_UNREADABLE) as error:
        return Ambiguous(type(error).__name__)


def _text_limited(error: TooManyRequests) -> SendResult:
    """Of texts, 429 also stands beside codes that no later try mends."""
    if error.code is None or error.code in _NOT_PROCESSED:
        return RateLimited(error.retry_after)
    return Refused(error.code, 429)


def _refusal(error: TwilioRestException | TwilioServiceException) -> SendResult:
    if error.status >= 500 or error.status == httpx.codes.REQUEST_TIMEOUT:
        return Ambiguous(f"HTTP {error.status}")
    return Refused(error.code if isinstance(error.code, int) else error.status, error.status)
