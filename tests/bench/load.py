"""Load for a web server, from a process of its own: signed texts on connections that are kept alive.

Reads one order (JSON) on standard input, makes every request ready, waits for the word "go", sends until the time is up
and prints the result (JSON). Each answer is checked to be a 200 with a ``<Message>``; the first wrong ones are shown.
"""

from __future__ import annotations

import asyncio
import json
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from typing import Any
from urllib.parse import urlencode

import uvloop

from guide_service.carrier.signature import sign

ENOUGH = 8_000
"""Requests made ready per second of load: more than any of the servers answers."""


@dataclass(frozen=True, slots=True)
class Order:
    port: int
    path: str
    token: str
    recipient: str
    talks: list[tuple[str, list[str]]]
    """(number, texts) of each phone: phones take turns, each sends its texts over and over."""
    run: str
    """Makes the ids of this load's messages its own."""
    begin: int = 0
    """How many texts were sent by loads before."""
    seconds: float = 4.0
    connections: int = 16


@dataclass(slots=True)
class Result:
    answers: int = 0
    seconds: float = 0.0
    slowness: dict[str, int] = field(default_factory=dict)
    """How many answers took so many tenths of a millisecond."""
    wrong: list[str] = field(default_factory=list)


def main() -> None:
    order = Order(**json.loads(sys.stdin.readline()))
    requests = list(_requests(order))
    print("ready", flush=True)
    sys.stdin.readline()
    uvloop.install()
    print(json.dumps(asdict(asyncio.run(_load(order, requests)))))


def _requests(order: Order) -> Iterator[bytes]:
    for n in range(order.begin, order.begin + int(ENOUGH * order.seconds)):
        number, texts = order.talks[n % len(order.talks)]
        yield _request(order, number, texts[n // len(order.talks) % len(texts)], f"SM{order.run}{n:020d}")


def _request(order: Order, number: str, body: str, sid: str) -> bytes:
    form = [
        ("ToCountry", "US"), ("SmsMessageSid", sid), ("NumMedia", "0"), ("SmsSid", sid), ("SmsStatus", "received"),
        ("Body", body), ("To", order.recipient), ("NumSegments", "1"), ("MessageSid", sid),
        ("AccountSid", "AC" + "0" * 32), ("From", number), ("ApiVersion", "2010-04-01"), ("FromCountry", "US"),
    ]  # fmt: skip
    host, words = f"127.0.0.1:{order.port}", urlencode(form)
    head = (
        f"POST {order.path} HTTP/1.1\r\nHost: {host}\r\nContent-Type: application/x-www-form-urlencoded\r\n"
        f"X-Twilio-Signature: {sign(f'http://{host}{order.path}', form, order.token)}\r\n"
        f"Content-Length: {len(words)}\r\n\r\n"
    )
    return (head + words).encode()


async def _load(order: Order, requests: list[bytes]) -> Result:
    result, todo = Result(), iter(requests)
    began = time.perf_counter()
    async with asyncio.TaskGroup() as group:
        for _ in range(order.connections):
            group.create_task(_phone(order, todo, began + order.seconds, result))
    result.seconds = time.perf_counter() - began
    return result


async def _phone(order: Order, todo: Iterator[bytes], until: float, result: Result) -> None:
    loop = asyncio.get_running_loop()
    _transport, line = await loop.create_connection(_Line, "127.0.0.1", order.port)
    for request in todo:
        sent = time.perf_counter()
        if sent >= until:
            break
        answer = await line.ask(request)
        tenths = str(int((time.perf_counter() - sent) * 10_000))
        result.slowness[tenths] = result.slowness.get(tenths, 0) + 1
        result.answers += 1
        if (not answer.startswith(b"HTTP/1.1 200") or b"<Message" not in answer) and len(result.wrong) < 5:
            result.wrong.append((request.partition(b"\r\n\r\n")[2] + b" -> " + answer).decode(errors="replace"))
    line.transport.close()


class _Line(asyncio.Protocol):
    """One kept-alive connection; one request at a time."""

    transport: Any

    def connection_made(self, transport: Any) -> None:
        self.transport, self.heard, self.answer = transport, b"", asyncio.get_running_loop().create_future()

    def ask(self, request: bytes) -> asyncio.Future[bytes]:
        self.heard, self.answer = b"", asyncio.get_running_loop().create_future()
        self.transport.write(request)
        return self.answer

    def data_received(self, data: bytes) -> None:
        self.heard += data
        head, end, body = self.heard.partition(b"\r\n\r\n")
        if end and len(body) >= _length(head):
            self.answer.set_result(self.heard)

    def connection_lost(self, _trouble: Exception | None) -> None:
        if not self.answer.done():
            self.answer.set_result(b"the connection was closed")


def _length(head: bytes) -> int:
    found = head.lower().partition(b"content-length:")[2].partition(b"\r\n")[0]
    return int(found or 0)


if __name__ == "__main__":
    main()
