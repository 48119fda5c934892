"""What the carrier does, played for the practice phone: signed webhooks in, delivery reports back.

Requests go over HTTP to the service's own address, through signature, form and answer, exactly as in the field.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree

import httpx

from guide_service.carrier.signature import sign
from guide_service.settings import Settings
from guide_service.wording.segments import segments

PRACTICE_NUMBER = re.compile(r"\+1[2-9]\d{2}55501\d{2}")
"""Numbers 555-0100 to 555-0199 of every North American area code are kept free for fiction (ATIS-0300115)."""
REPORTS = ("queued", "sent", "delivered")
WAIT_SECONDS = 20.0


@dataclass(frozen=True, slots=True)
class Reply:
    body: str
    status_url: str | None


class WebhookRefused(Exception):
    """The service did not take the webhook; the text says with which status."""


class NoPracticeNumber(ValueError):
    """A number that may be somebody's."""


def practice_number(number: str) -> str:
    """A number of the fictional range, however it was written. Raises ``NoPracticeNumber``."""
    digits = "".join(character for character in number if character.isdigit())
    e164 = f"+{digits}" if len(digits) == 11 else f"+1{digits}"
    if not PRACTICE_NUMBER.fullmatch(e164):
        raise NoPracticeNumber("the practice phone uses numbers such as +1 202 555 0123 (555-0100 to 555-0199)")
    return e164


class CarrierSide:
    """One carrier account, as far as the demo needs one. ``http``: a client of the tests' own."""

    def __init__(self, settings: Settings, http: httpx.Client | None = None) -> None:
        self.settings = settings
        self.http = http or httpx.Client(timeout=WAIT_SECONDS)

    def send_in(self, number: str, body: str, sid: str) -> list[Reply]:
        """Delivers a person's text to the service; its replies."""
        answer = self.post(f"{self.settings.address}/carrier/sms", text_form(self.settings, number, body, sid))
        return replies(answer.content)

    def report(self, status_url: str, sid: str, number: str, statuses: Sequence[str] = REPORTS) -> None:
        """Tells the service what became of a text; a report that is not taken is let go, as carriers do."""
        for status in statuses:
            form = {
                "MessageSid": sid,
                "AccountSid": self.settings.account_sid,
                "From": self.settings.number,
                "To": number,
                "MessageStatus": status,
            }
            try:
                self.post(status_url, form)
            except (httpx.HTTPError, WebhookRefused):
                return

    def call_form(self, sid: str, person: str, status: str, *, ours: bool) -> dict[str, str]:
        """What the carrier says of a call with every webhook. ``ours``: the service has called the person."""
        ends = {"From": self.settings.number, "To": person} if ours else {"From": person, "To": self.settings.number}
        form = {"CallSid": sid, "AccountSid": self.settings.account_sid, "CallStatus": status}
        return form | ends | {"Direction": "outbound-api" if ours else "inbound"}

    def post(self, url: str, form: dict[str, str]) -> httpx.Response:
        """A signed webhook. Raises ``WebhookRefused``."""
        answer = self.http.post(url, data=form, headers=signed(self.settings, url, form))
        if answer.status_code >= 300:
            raise WebhookRefused(f"the service answered {answer.status_code}")
        return answer

    def close(self) -> None:
        self.http.close()


def text_form(settings: Settings, number: str, body: str, sid: str) -> dict[str, str]:
    """What the carrier says of a person's text."""
    return {
        "MessageSid": sid,
        "AccountSid": settings.account_sid,
        "From": number,
        "To": settings.number,
        "Body": body,
        "NumMedia": "0",
        "NumSegments": str(segments(body).count),
    }


def signed(settings: Settings, url: str, form: dict[str, str]) -> dict[str, str]:
    """The header that a webhook comes with."""
    return {"X-Twilio-Signature": sign(url, form.items(), settings.auth_token)}


def new_sid() -> str:
    return f"SM{uuid.uuid4().hex}"


def replies(twiml: bytes) -> list[Reply]:
    """The messages of an answer of ours (and of ours only: the parser is not made for strangers' XML)."""
    if not twiml.strip():
        return []
    root = ElementTree.fromstring(twiml)
    return [
        Reply("".join(message.itertext()), message.get("action") or message.get("statusCallback"))
        for message in root.iter("Message")
    ]
