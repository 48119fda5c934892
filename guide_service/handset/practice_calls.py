"""Calls of the practice phone, as the carrier would carry them. A call lives as long as this process; its steps are
the service's own and outlive it, so that whoever is cut off calls again and goes on."""

from __future__ import annotations

import threading
import uuid
from collections import OrderedDict
from dataclasses import dataclass, replace

from sqlalchemy import Engine

from guide_service.carrier.kept import API
from guide_service.handset.carrier_side import CarrierSide
from guide_service.handset.heard import Heard, heard
from guide_service.handset.texts import TAKEN, settle_ring

MOST_CALLS = 64
"""Calls that are kept; the oldest is forgotten first."""
VOUCHED_FOR = "TN-Validation-Passed-A"
NOBODY = "+266696687"
"""What the carrier writes for a caller without a number: the word anonymous on a keypad."""


class NoSuchCall(LookupError):
    """The call is over, or was never made here."""


@dataclass(frozen=True, slots=True)
class PracticeCall:
    sid: str
    number: str
    last: Heard
    shown: bool = True
    """Whether the phone shows its number, vouched for by its network."""
    ends_at: str = ""
    """Of a call that the service made: where it hears of its end."""


class PracticeCalls:
    def __init__(self, carrier: CarrierSide) -> None:
        self.carrier = carrier
        self._calls: OrderedDict[str, PracticeCall] = OrderedDict()
        self._lock = threading.Lock()

    def place(self, number: str, *, shown: bool = True) -> PracticeCall:
        """The person calls the county. Raises ``WebhookRefused``."""
        call = PracticeCall(f"CA{uuid.uuid4().hex}", number, Heard((), "answer"), shown)
        return self._next(call, f"{self.carrier.settings.address}/carrier/voice", {"CallStatus": "ringing"})

    def take(self, engine: Engine, sid: str) -> PracticeCall:
        """The person picks up a call of the county. Raises ``NoSuchCall`` when it has stopped ringing."""
        ring = settle_ring(engine, sid, TAKEN)
        if ring is None:
            raise NoSuchCall(sid)
        number, document, end = ring
        return self._next(PracticeCall(sid, number, Heard((), "answer"), ends_at=end), document, {})

    def keys(self, sid: str, digits: str) -> PracticeCall:
        """Keys as they were pressed. The carrier keeps the key that ends a number to itself."""
        call = self._at(sid, "answer")
        return self._next(call, call.last.action, {"Digits": digits if call.last.one_key else digits.rstrip("#")})

    def words(self, sid: str, words: str) -> PracticeCall:
        call = self._at(sid, "answer")
        return self._next(call, call.last.action, {"SpeechResult": words, "Confidence": "0.9"})

    def silence(self, sid: str) -> PracticeCall:
        call = self._at(sid, "answer")
        return self._next(call, call.last.action, {})

    def agent_answers(self, sid: str, takes_it: bool) -> PracticeCall:
        """The phone that we ring is taken, talked on and laid down, or nobody takes it."""
        call = self._at(sid, "dial")
        return self._next(call, call.last.action, {"DialCallStatus": "completed" if takes_it else "no-answer"})

    def leave_word(self, sid: str, seconds: int) -> PracticeCall:
        call = self._at(sid, "record")
        address = f"{API}/{self.carrier.settings.account_sid}/Recordings/RE{uuid.uuid4().hex}"
        fields = {"RecordingUrl": address, "RecordingDuration": str(seconds)}
        return self._next(call, call.last.action, fields)

    def hang_up(self, sid: str) -> None:
        with self._lock:
            call = self._calls.pop(sid, None)
        if call is not None:
            address = call.ends_at or f"{self.carrier.settings.address}/carrier/voice/status"
            self.carrier.post(address, self._form(call, {"CallStatus": "completed"}))

    def _at(self, sid: str, then: str) -> PracticeCall:
        with self._lock:
            call = self._calls.get(sid)
        if call is None or call.last.then != then:
            raise NoSuchCall(sid)
        return call

    def _next(self, call: PracticeCall, address: str, fields: dict[str, str]) -> PracticeCall:
        said = heard(self.carrier.post(address, self._form(call, fields)).content)
        moved = replace(call, last=said)
        with self._lock:
            self._calls[call.sid] = moved
            while len(self._calls) > MOST_CALLS:
                self._calls.popitem(last=False)
        if said.then == "over":
            self.hang_up(call.sid)
        return moved

    def _form(self, call: PracticeCall, fields: dict[str, str]) -> dict[str, str]:
        person = call.number if call.shown else NOBODY
        form = self.carrier.call_form(call.sid, person, "in-progress", ours=bool(call.ends_at))
        vouched = {"StirVerstat": VOUCHED_FOR} if call.shown and not call.ends_at else {}
        return form | vouched | fields
