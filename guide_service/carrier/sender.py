"""The port through which texts leave: what a sender can do and how a send can end.

None of these values holds a number or a text except ``SentText``, which never leaves the demo and the tests.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from guide_service.carrier.kept import Kept

MAX_BODY = 1_600
"""Characters of one text (the carrier's error 21617)."""
VALIDITY_SECONDS = range(1, 36_001)
"""How long the carrier may keep a text in its queue [s]; more than 5 is recommended."""


@dataclass(frozen=True, slots=True)
class Accepted:
    """The carrier has it."""

    sid: str
    status: str
    segments: int


@dataclass(frozen=True, slots=True)
class Refused:
    """It will not go out; ``delivery.policy_for(code, http_status)`` says what to do."""

    code: int
    http_status: int
    """0: we did not even ask, because the carrier would have refused."""


@dataclass(frozen=True, slots=True)
class RateLimited:
    """Never processed, always safe to send again."""

    retry_after: float | None
    """[s], if the carrier said so."""


@dataclass(frozen=True, slots=True)
class Ambiguous:
    """Nobody knows: look it up before it is sent again."""

    reason: str
    may_be_out: bool = True
    """False when no connection was made, so that nothing can have been sent."""


SendResult = Accepted | Refused | RateLimited | Ambiguous


class LookUpFailed(Exception):
    """The carrier could not be asked. Not the same as "it was not sent": ask again before sending again."""


@dataclass(frozen=True, slots=True)
class SentText:
    to: str
    body: str
    status_callback: str | None
    validity_seconds: int
    sid: str


@dataclass(frozen=True, slots=True)
class PlacedCall:
    """A call that the demo or a test was asked to make."""

    to: str
    url: str
    status_callback: str
    sid: str


@runtime_checkable
class Sender(Protocol):
    def send_text(self, to: str, body: str, status_callback: str | None, validity_seconds: int) -> SendResult:
        """Asks the carrier once. Never raises for the network or the carrier."""

    def place_call(self, to: str, url: str, status_callback: str, ring_seconds: int) -> SendResult:
        """Asks the carrier once to ring a phone; ``url`` is asked what is said when somebody answers. Never raises."""

    def find_sent(
        self, to: str, body: str, since: dt.datetime, our_reference: str, known_sids: Collection[str] = ()
    ) -> str | None:
        """The carrier's id of a text that we may have sent since then; None if there is none.

        ``known_sids``: ids that belong to other rows (the same words may be sent twice). ``our_reference`` names the
        row in the log. Raises ``LookUpFailed`` when there was no answer.
        """

    def fetch(self, resource: str) -> Kept | None:
        """A recording or a picture that the carrier keeps (``kept.resource_of``); None when it has it no more.

        Raises ``NotToBeHad`` when there was no answer.
        """

    def erase(self, resource: str) -> None:
        """A recording, a picture or a text is the carrier's no more. Raises ``NotToBeHad``: to be tried again."""

    def close(self) -> None: ...


def reason_to_refuse(to_is_number: bool, body: str, validity_seconds: int) -> Refused | None:
    """What the carrier would refuse, known without asking; the codes are the carrier's own."""
    if not to_is_number:
        return Refused(21211, 0)
    if not body.strip() or not _encodable(body):
        return Refused(21602, 0)
    if len(body) > MAX_BODY:
        return Refused(21617, 0)
    if validity_seconds not in VALIDITY_SECONDS:
        raise ValueError(f"validity of {validity_seconds} s; the carrier takes 1 to 36000")
    return None


def _encodable(body: str) -> bool:
    return not any("\ud800" <= character <= "\udfff" for character in body)
