"""What the carrier's webhooks say, read from the raw form into frozen values.

Field names and limits: the carrier's "webhook request" guide and its status callback page. Unknown fields are ignored,
since the carrier adds some without notice.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import parse_qsl, quote

from guide_service.dialogue.by_call import OnCall

MAX_FORM_BYTES = 65_536
"""1,600 characters are at most 19,200 bytes when percent-encoded (four bytes, three characters each); the rest is room
for ten picture links and fields to come. Common practice."""
MAX_FORM_FIELDS = 300
MAX_MEDIA = 10
"""Pictures in one message (the carrier's MMS limit, from memory)."""
ROW_FIELD = "row"
"""Name of our outbound row's id in the query of the status address."""
KEPT_FIELDS = frozenset({"MessagingServiceSid", "FromCountry", "ToCountry", "SmsStatus", "ApiVersion", "ErrorCode"})
"""Fields kept for diagnosis. City, zip and the like stay out: they describe the number, not the person."""

_SID = re.compile(r"[A-Za-z0-9]{1,64}")
_ROW_ID = re.compile(r"[A-Za-z0-9-]{1,64}")


class FormError(ValueError):
    """The form cannot be a message of the carrier. The text names fields, never their values."""


class FormTooLarge(FormError):
    """More bytes or fields than any message of the carrier has."""


class FieldMissing(FormError):
    """A field that every message has is absent or empty."""


@dataclass(frozen=True, slots=True)
class InboundText:
    sid: str
    """The carrier's id of the message: a retried webhook has the same."""
    account_sid: str
    sender: str
    """As the carrier wrote it: usually E.164, but also a short code, "anonymous" or empty."""
    recipient: str
    body: str
    media: tuple[tuple[str, str], ...] = ()
    """(link, content type) of each picture."""
    opt_out_type: str | None = None
    """STOP, START or HELP when the carrier has answered already."""
    segments: int = 1
    kept: tuple[tuple[str, str], ...] = ()
    """Raw pairs kept for diagnosis."""
    call: OnCall | None = None
    """Said or keyed in on a call, where everything else is as in a text."""


@dataclass(frozen=True, slots=True)
class StatusReport:
    sid: str
    status: str
    error_code: int | None
    row_id: str | None
    """Our outbound row: the report can arrive before the row knows the carrier's id."""


def parse_form(body: bytes) -> list[tuple[str, str]]:
    """The raw pairs, in order, blanks, spaces and duplicates kept (the signature covers them)."""
    if len(body) > MAX_FORM_BYTES:
        raise FormTooLarge(f"form of {len(body)} bytes; at most {MAX_FORM_BYTES} are read")
    if body.count(b"&") >= MAX_FORM_FIELDS:
        raise FormTooLarge(f"form of more than {MAX_FORM_FIELDS} fields")
    return parse_qsl(body.decode("utf-8", "replace"), keep_blank_values=True, encoding="utf-8", errors="replace")


def inbound_text(pairs: Iterable[tuple[str, str]]) -> InboundText:
    """Raises ``FieldMissing`` without MessageSid or From (an empty From is a withheld number and is let in)."""
    pairs = list(pairs)
    fields = _fields(pairs)
    if "From" not in fields:
        raise FieldMissing("the form has no From")
    return InboundText(
        sid=_sid(fields),
        account_sid=fields.get("AccountSid", ""),
        sender=fields["From"].strip(),
        recipient=fields.get("To", "").strip(),
        body=fields.get("Body", ""),
        media=_media(fields),
        opt_out_type=fields.get("OptOutType", "").strip().upper() or None,
        segments=max(1, _count(fields.get("NumSegments", ""), 1)),
        kept=tuple((name, _storable(value)) for name, value in pairs if name in KEPT_FIELDS),
    )


def status_report(pairs: Iterable[tuple[str, str]], query_string: str | bytes = b"") -> StatusReport:
    """Raises ``FieldMissing`` without MessageSid or a status."""
    fields = _fields(pairs)
    status = (fields.get("MessageStatus") or fields.get("SmsStatus", "")).strip().lower()
    if not status:
        raise FieldMissing("the form has no MessageStatus")
    return StatusReport(_sid(fields), status, _count(fields.get("ErrorCode", ""), 0) or None, row_id_of(query_string))


def status_address(public_url: str, row_id: str) -> str:
    """Where the carrier reports what became of this row."""
    return f"{public_url.rstrip('/')}/carrier/status?{ROW_FIELD}={quote(row_id, safe='')}"


def row_id_of(query_string: str | bytes) -> str | None:
    text = query_string if isinstance(query_string, str) else query_string.decode("latin-1")
    found = dict(parse_qsl(text)).get(ROW_FIELD, "")
    return found if _ROW_ID.fullmatch(found) else None


def _fields(pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    """The first value of each name."""
    fields: dict[str, str] = {}
    for name, value in pairs:
        fields.setdefault(name, _storable(value))
    return fields


def _storable(value: str) -> str:
    # PostgreSQL text holds no NUL; the row must be kept all the same
    return value.replace("\x00", "\ufffd")


def _sid(fields: Mapping[str, str]) -> str:
    sid = fields.get("MessageSid", "")
    if not _SID.fullmatch(sid):
        raise FieldMissing("the form has no usable MessageSid")
    return sid


def _media(fields: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    links = (
        (fields.get(f"MediaUrl{n}", ""), fields.get(f"MediaContentType{n}", ""))
        for n in range(min(_count(fields.get("NumMedia", ""), 0), MAX_MEDIA))
    )
    # an agent will click these: nothing but web addresses
    return tuple((url, kind) for url, kind in links if url.startswith(("https://", "http://")))


def _count(text: str, otherwise: int) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 9 else otherwise
