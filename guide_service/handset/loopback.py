"""The demo's sender: texts that we start land in the practice phone's table, then are reported as delivered."""

from __future__ import annotations

import contextlib
import datetime as dt
import queue
import threading
from collections.abc import Callable, Collection

import httpx
from sqlalchemy import Engine

from guide_service.carrier.kept import Kept
from guide_service.carrier.phone_numbers import E164
from guide_service.carrier.sender import Accepted, Refused, SendResult, reason_to_refuse
from guide_service.clock import Clock
from guide_service.handset.carrier_side import CarrierSide, WebhookRefused, new_sid
from guide_service.handset.texts import MISSED, RECEIVED, RINGS, find_received, keep, settle_ring
from guide_service.handset.tone import tone
from guide_service.settings import Settings
from guide_service.wording.segments import segments

_Report = tuple[str, str, str]
Reporter = Callable[[str, str, str], None]
"""Address of the report, sid, number."""


class LoopbackSender:
    """Same refusals as the carrier. Delivery reports follow from a thread of their own, as they do in the field."""

    def __init__(self, engine: Engine, clock: Clock, settings: Settings, reporter: Reporter | None = None) -> None:
        """``reporter``: takes the reports at once, in place of our own webhook (the seeding of the demo)."""
        self._engine = engine
        self._clock = clock
        self._at_once = reporter
        self._carrier = CarrierSide(settings)
        self._reports: queue.Queue[_Report | None] = queue.Queue()
        self._reporter: threading.Thread | None = None
        self._lock = threading.Lock()
        self.rings_for: float | None = None
        """Real seconds that a call of ours rings, where it is not as long as the service asks."""

    def send_text(self, to: str, body: str, status_callback: str | None, validity_seconds: int) -> SendResult:
        refused = reason_to_refuse(E164.fullmatch(to) is not None, body, validity_seconds)
        if refused:
            return refused
        sid = new_sid()
        keep(self._engine, to, RECEIVED, body, sid, self._clock.now())
        if status_callback:
            self._report_later((status_callback, sid, to))
        return Accepted(sid, "queued", segments(body).count)

    def place_call(self, to: str, url: str, status_callback: str, ring_seconds: int) -> SendResult:
        """The practice phone rings, for so many real seconds whatever the demo's clock does. A phone that the seeding
        plays is at home to nobody."""
        if E164.fullmatch(to) is None:
            return Refused(21217, 0)
        sid = f"CA{new_sid()[2:]}"
        if not self._at_once:
            keep(self._engine, to, RINGS, f"{url}\n{status_callback}", sid, self._clock.now())
            silent = threading.Timer(
                ring_seconds if self.rings_for is None else self.rings_for, self._nobody_took, (sid,)
            )
            silent.daemon = True
            silent.start()
        return Accepted(sid, "queued", 0)

    def find_sent(
        self, to: str, body: str, since: dt.datetime, our_reference: str, known_sids: Collection[str] = ()
    ) -> str | None:
        del our_reference
        return find_received(self._engine, to, body, since, set(known_sids))

    def fetch(self, resource: str) -> Kept | None:
        """The practice phone has no ear: a tone stands for what was said."""
        return Kept(tone(), "audio/wav") if resource.startswith("Recordings/") else None

    def erase(self, resource: str) -> None:
        """Nothing was recorded."""

    def close(self) -> None:
        with self._lock:
            reporter, self._reporter = self._reporter, None
        if reporter:
            self._reports.put(None)
            reporter.join(timeout=5)
        self._carrier.close()

    def _nobody_took(self, sid: str) -> None:
        ring = settle_ring(self._engine, sid, MISSED)
        if ring is not None:
            number, _document, end = ring
            form = self._carrier.call_form(sid, number, "no-answer", ours=True)
            with contextlib.suppress(httpx.HTTPError, WebhookRefused):  # the service was stopped meanwhile
                self._carrier.post(end, form)

    def _report_later(self, report: _Report) -> None:
        if self._at_once:
            self._at_once(*report)
            return
        self._reports.put(report)
        with self._lock:
            if self._reporter is None:
                self._reporter = threading.Thread(target=self._report_all, name="delivery-reports", daemon=True)
                self._reporter.start()

    def _report_all(self) -> None:
        while (report := self._reports.get()) is not None:
            self._carrier.report(*report)
