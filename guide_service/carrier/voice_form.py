"""What the carrier's webhooks say of a call, read from the raw form into frozen values.

Field names: the carrier's pages on voice requests, ``<Gather>``, ``<Dial>``, ``<Record>`` and call status callbacks.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import parse_qsl

from guide_service.carrier.form import FieldMissing

VOUCHED_FOR = "TN-Validation-Passed-A"
"""``StirVerstat``: the caller's network knows the caller and that the number is theirs (attestation A). B and C are
less, an empty one says nothing; only A opens a file by the number alone."""
LONGEST_KEYS, LONGEST_WORDS = 64, 1_000
_SID = re.compile(r"CA[0-9a-f]{32}")
_KEYS = re.compile(r"[^0-9*#]")


@dataclass(frozen=True, slots=True)
class CallRequest:
    sid: str
    number: str
    """Of the person: who calls, or whom we call."""
    trusted: bool
    ours: bool
    status: str
    digits: str
    words: str
    confidence: float | None
    dialled: str
    """What became of the agent's phone: ``completed``, ``busy``, ``no-answer``, ``failed``, ``canceled`` or nothing."""
    recording: str
    """Address of a recorded message."""
    seconds: int


def call_request(pairs: Iterable[tuple[str, str]]) -> CallRequest:
    """Raises ``FieldMissing`` without a CallSid."""
    fields: dict[str, str] = {}
    for name, value in pairs:
        fields.setdefault(name, value.replace("\x00", ""))
    sid = fields.get("CallSid", "")
    if not _SID.fullmatch(sid):
        raise FieldMissing("the form has no usable CallSid")
    ours = fields.get("Direction", "").startswith("outbound")
    return CallRequest(
        sid=sid,
        number=fields.get("To" if ours else "From", "").strip(),
        trusted=ours or fields.get("StirVerstat", "") == VOUCHED_FOR,
        ours=ours,
        status=(fields.get("CallStatus") or "").strip().lower(),
        digits=_KEYS.sub("", fields.get("Digits", ""))[:LONGEST_KEYS],
        words=fields.get("SpeechResult", "")[:LONGEST_WORDS],
        confidence=_fraction(fields.get("Confidence", "")),
        dialled=fields.get("DialCallStatus", "").strip().lower(),
        recording=fields.get("RecordingUrl", ""),
        seconds=int(text) if (text := fields.get("RecordingDuration", "")).isdigit() and len(text) < 6 else 0,
    )


def query_number(query_string: str | bytes, name: str) -> int | None:
    """A number of our own in the query of an action address."""
    text = query_string if isinstance(query_string, str) else query_string.decode("latin-1")
    found = dict(parse_qsl(text)).get(name, "")
    return int(found) if found.isascii() and found.isdigit() and len(found) <= 19 else None


def _fraction(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if 0.0 <= value <= 1.0 else None
