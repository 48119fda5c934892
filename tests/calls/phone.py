"""A telephone for the tests: signed webhooks over HTTP, every answer held against the carrier's grammar."""

from __future__ import annotations

import uuid
import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from typing import Any

import anyio
import httpx

from guide_service.app import create_app
from guide_service.carrier.signature import sign
from guide_service.wiring import Service
from tests.calls.twiml_grammar import problems
from tests.people import NUMBER

VOUCHED = "TN-Validation-Passed-A"


@dataclass(repr=False)
class Exchange:
    """The carrier's side of one service."""

    service: Service
    app: Any = None

    def __post_init__(self) -> None:
        self.app = create_app(self.service)

    def post(self, url: str, form: dict[str, str], signature: str | None = None) -> httpx.Response:
        settings = self.service.settings
        signed = sign(url, form.items(), settings.auth_token) if signature is None else signature

        async def call() -> httpx.Response:
            transport = httpx.ASGITransport(app=self.app)
            async with httpx.AsyncClient(transport=transport, base_url=settings.address) as client:
                return await client.post(url, data=form, headers={"X-Twilio-Signature": signed})

        return anyio.run(call)

    def call(self, number: str = NUMBER, **more: Any) -> Phone:
        phone = Phone(self, number, **more)
        phone.ring()
        return phone


@dataclass(repr=False)
class Phone:
    exchange: Exchange
    number: str = NUMBER
    verstat: str = VOUCHED
    sid: str = field(default_factory=lambda: f"CA{uuid.uuid4().hex}")
    direction: str = "inbound"
    document: ET.Element | None = None
    raw: bytes = b""
    last: tuple[str, dict[str, str]] | None = None
    heard: list[str] = field(default_factory=list)

    @property
    def base(self) -> str:
        return f"{self.exchange.service.settings.address}/carrier/voice"

    def form(self, **fields: str) -> dict[str, str]:
        ours = self.exchange.service.settings.number
        ends = {"From": self.number, "To": ours} if self.direction == "inbound" else {"From": ours, "To": self.number}
        form = {"CallSid": self.sid, "AccountSid": "AC1", "Direction": self.direction, "CallStatus": "in-progress"}
        return form | ends | ({"StirVerstat": self.verstat} if self.verstat else {}) | fields

    def ring(self, url: str | None = None) -> str:
        return self.post(url or self.base, self.form(CallStatus="ringing"))

    def post(self, url: str, form: dict[str, str]) -> str:
        self.last = (url, form)
        answer = self.exchange.post(url, form)
        assert answer.status_code == 200, answer.status_code
        assert answer.headers["content-type"].startswith("application/xml")
        assert problems(answer.content) == [], answer.content.decode()
        self.raw, self.document = answer.content, ET.fromstring(answer.content)
        self.heard.append(self.says)
        return self.says

    def retry(self) -> bytes:
        """The carrier sends its last webhook once more."""
        assert self.last is not None
        before = self.raw
        self.post(*self.last)
        self.heard.pop()
        assert self.raw == before
        return self.raw

    @property
    def gather(self) -> ET.Element:
        assert self.document is not None
        found = self.document.find("Gather")
        assert found is not None, self.raw.decode()
        return found

    @property
    def says(self) -> str:
        assert self.document is not None
        return " ".join("".join(say.itertext()) for say in self.document.iter("Say"))

    @property
    def over(self) -> bool:
        assert self.document is not None
        return self.document.find("Hangup") is not None

    def key(self, digits: str) -> str:
        return self.post(self.gather.attrib["action"], self.form(Digits=digits))

    def keys(self, *digits: str) -> str:
        for each in digits:
            self.key(each)
        return self.says

    def say(self, words: str, confidence: str = "0.9") -> str:
        assert "speech" in self.gather.attrib["input"]
        return self.post(self.gather.attrib["action"], self.form(SpeechResult=words, Confidence=confidence))

    def nothing(self) -> str:
        return self.post(self.gather.attrib["action"], self.form())

    def hang_up(self, status: str = "completed") -> None:
        answer = self.exchange.post(f"{self.base}/status", self.form(CallStatus=status, SequenceNumber="3"))
        assert answer.status_code == 204
