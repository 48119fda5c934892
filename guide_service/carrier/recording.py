"""The sender of the demo and of tests: keeps what was sent, or hands it to whoever plays the phone."""

from __future__ import annotations

import datetime as dt
import threading
import uuid
from collections.abc import Callable, Collection, Iterable
from dataclasses import replace

from guide_service.carrier.kept import Kept
from guide_service.carrier.phone_numbers import E164
from guide_service.carrier.sender import (
    Accepted,
    Ambiguous,
    PlacedCall,
    Refused,
    SendResult,
    SentText,
    reason_to_refuse,
)


class RecordingSender:
    """Same refusals as the real one. ``outcomes``: ends of the next sends, to rehearse failures; then all is accepted.

    ``deliver`` is called with every text that goes out (the practice phone). An ``Ambiguous`` outcome that may be out
    is kept as sent, so that ``find_sent`` finds it as it would at the carrier. ``now`` dates what is kept.
    """

    def __init__(
        self,
        deliver: Callable[[SentText], None] | None = None,
        segments_of: Callable[[str], int] = lambda _body: 1,
        outcomes: Iterable[SendResult] = (),
        now: Callable[[], dt.datetime] = lambda: dt.datetime.now(dt.UTC),
    ) -> None:
        self.sent: list[SentText] = []
        self.calls: list[PlacedCall] = []
        self.kept: dict[str, Kept] = {}
        """Recordings and pictures that it has, by resource."""
        self.erased: list[str] = []
        self._sent_at: list[dt.datetime] = []
        self._deliver = deliver
        self._segments_of = segments_of
        self._outcomes = list(outcomes)
        self._now = now
        self._lock = threading.Lock()

    def send_text(self, to: str, body: str, status_callback: str | None, validity_seconds: int) -> SendResult:
        refused = reason_to_refuse(E164.fullmatch(to) is not None, body, validity_seconds)
        if refused:
            return refused
        text = SentText(to, body, status_callback, validity_seconds, f"SM{uuid.uuid4().hex}")
        with self._lock:
            outcome = self._outcomes.pop(0) if self._outcomes else None
        outcome = outcome or Accepted(text.sid, "queued", self._segments_of(body))
        if isinstance(outcome, Accepted):
            self._keep(replace(text, sid=outcome.sid))
        elif isinstance(outcome, Ambiguous) and outcome.may_be_out:
            self._keep(text)
        return outcome

    def place_call(self, to: str, url: str, status_callback: str, ring_seconds: int) -> SendResult:  # noqa: ARG002
        if E164.fullmatch(to) is None:
            return Refused(21217, 0)
        with self._lock:
            outcome = self._outcomes.pop(0) if self._outcomes else None
            outcome = outcome or Accepted(f"CA{uuid.uuid4().hex}", "queued", 0)
            if isinstance(outcome, Accepted):
                self.calls.append(PlacedCall(to, url, status_callback, outcome.sid))
        return outcome

    def find_sent(
        self,
        to: str,
        body: str,
        since: dt.datetime,
        our_reference: str,  # noqa: ARG002 (the real one names it in its log)
        known_sids: Collection[str] = (),
    ) -> str | None:
        with self._lock:
            kept = list(zip(self.sent, self._sent_at, strict=True))
        return next(
            (
                text.sid
                for text, at in kept
                if (text.to, text.body) == (to, body) and at >= since and text.sid not in known_sids
            ),
            None,
        )

    def fetch(self, resource: str) -> Kept | None:
        return self.kept.get(resource)

    def erase(self, resource: str) -> None:
        self.kept.pop(resource, None)
        self.erased.append(resource)

    def close(self) -> None:
        """Nothing is open."""

    def _keep(self, text: SentText) -> None:
        with self._lock:
            self.sent.append(text)
            self._sent_at.append(self._now())
        if self._deliver:
            self._deliver(text)
