"""A carrier on loopback: takes texts, loses answers, is busy, slow and forgetful, and remembers what it really did."""

from __future__ import annotations

import json
import queue
import random
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from email.utils import formatdate
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from itertools import pairwise
from urllib.parse import parse_qsl, urlsplit

import httpx

from guide_service.carrier.signature import sign

HIDDEN_SECONDS = 1.5
"""How long a forgetful carrier's list does not show a text that it took."""


@dataclass(frozen=True, slots=True)
class Sent:
    sid: str
    to: str
    body: str
    row: str
    at: float
    visible_at: float
    created: str


@dataclass(frozen=True, slots=True)
class LookUp:
    to: str
    at: float
    sids: frozenset[str]


class FakeCarrier:
    """``about_to``: called at a random moment of a send, for whoever wants to kill then."""

    def __init__(self, account: str, token: str, number: str, seed: int) -> None:
        self.account, self.token, self.number = account, token, number
        self.sent: list[Sent] = []
        self.lookups: list[LookUp] = []
        self.about_to: Callable[[], None] = lambda: None
        self._chance = random.Random(seed)
        self._lock = threading.Lock()
        self._reports: queue.Queue[tuple[str, dict[str, str]] | None] = queue.Queue()
        self._server = _Server(("127.0.0.1", 0), _handler(self))
        self.port = self._server.server_address[1]
        self._threads = [threading.Thread(target=self._server.serve_forever, args=(0.05,)),
                         threading.Thread(target=self._report_all)]  # fmt: skip

    def __enter__(self) -> FakeCarrier:
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_problem: object) -> None:
        self._reports.put(None)
        self._server.shutdown()
        for thread in self._threads:
            thread.join()
        self._server.server_close()

    def fate(self) -> str:
        fates = {"taken": 45, "slow": 15, "answer_lost": 20, "busy": 5, "never_came": 10, "too_many": 1, "hidden": 4}
        with self._lock:
            return self._chance.choices(list(fates), list(fates.values()))[0]

    def chance(self) -> float:
        with self._lock:
            return self._chance.random()

    def take(self, form: dict[str, str], hidden: bool) -> Sent:
        now = time.time()
        row = dict(parse_qsl(urlsplit(form["StatusCallback"]).query))["row"]
        with self._lock:
            sid = f"SM{len(self.sent):032x}"
            visible_at = now + HIDDEN_SECONDS if hidden else now
            sent = Sent(sid, form["To"], form["Body"], row, now, visible_at, formatdate(now, usegmt=True))
            self.sent.append(sent)
        self._report_later(form, sid)
        return sent

    def look_up(self, to: str) -> list[Sent]:
        now = time.time()
        with self._lock:
            found = [sent for sent in self.sent if sent.to == to and sent.visible_at <= now]
            self.lookups.append(LookUp(to, now, frozenset(sent.sid for sent in found)))
        return list(reversed(found))

    def _report_later(self, form: dict[str, str], sid: str) -> None:
        """Some reports, in any order: the rest is lost on the way, of many texts all."""
        if self.chance() < 0.5:
            return
        statuses = [status for status in ("queued", "sent", "delivered") if self.chance() < 0.6]
        if self.chance() < 0.5:
            statuses.reverse()
        for status in statuses:
            body = {"MessageSid": sid, "AccountSid": self.account, "From": self.number, "To": form["To"]}
            self._reports.put((form["StatusCallback"], body | {"MessageStatus": status}))

    def _report_all(self) -> None:
        with httpx.Client(timeout=5) as http:
            while (report := self._reports.get()) is not None:
                url, form = report
                try:
                    http.post(url, data=form, headers={"X-Twilio-Signature": sign(url, form.items(), self.token)})
                except httpx.HTTPError:
                    continue  # the process was down: carriers do not repeat reports

    def texted_twice(self) -> tuple[int, list[str]]:
        """Rows that went out more than once: how many could not be helped, and which could."""
        rows: dict[str, list[Sent]] = {}
        for sent in self.sent:
            rows.setdefault(sent.row, []).append(sent)
        avoidable, unavoidable = [], 0
        for row, sends in rows.items():
            for earlier, later in pairwise(sends):
                if self._was_hidden(earlier, later):
                    unavoidable += 1
                else:
                    avoidable.append(f"row {row} was sent twice: {earlier.body!r}")
        return unavoidable, avoidable

    def _was_hidden(self, earlier: Sent, later: Sent) -> bool:
        """Somebody looked before sending again, and the list did not show the text."""
        between = [each for each in self.lookups if each.to == later.to and earlier.at <= each.at <= later.at]
        return bool(between) and all(earlier.sid not in each.sids for each in between)


class _Server(ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, request: object, client_address: object) -> None:
        """Whoever asked is dead: that is what this is about."""


def _handler(carrier: FakeCarrier) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_POST(self) -> None:
            length = int(self.headers.get("Content-Length", 0))
            form = dict(parse_qsl(self.rfile.read(length).decode()))
            fate, moment = carrier.fate(), carrier.chance()
            self._maybe_kill(moment < 0.3)
            if fate in ("busy", "too_many"):
                code, status = (20429, 429) if fate == "too_many" else (20500, 503)
                self._answer({"code": code, "message": "later", "more_info": "", "status": status}, status)
            elif fate == "never_came":
                self.close_connection = True
            else:
                self._taken(form, fate, moment)

        def _taken(self, form: dict[str, str], fate: str, moment: float) -> None:
            sent = carrier.take(form, hidden=fate == "hidden")
            self._maybe_kill(0.3 <= moment < 0.7)
            if fate == "slow":
                time.sleep(0.3 * carrier.chance())
            if fate in ("answer_lost", "hidden"):
                self.close_connection = True
                return
            self._answer(_message(carrier, sent), 201)
            self._maybe_kill(moment >= 0.7)

        def do_GET(self) -> None:
            query = dict(parse_qsl(urlsplit(self.path).query))
            if carrier.chance() < 0.05:
                self._answer({"code": 20500, "message": "later", "more_info": "", "status": 503}, 503)
                return
            found = [_message(carrier, sent) for sent in carrier.look_up(query["To"])]
            self._answer({"messages": found, "page": 0, "page_size": 100, "next_page_uri": None}, 200)

        def _maybe_kill(self, now: bool) -> None:
            if now:
                carrier.about_to()

        def _answer(self, body: dict[str, object], status: int) -> None:
            data = json.dumps(body).encode()
            try:
                self.send_response(status)
                self.send_header("Content-Type", "application/json")
                self.send_header("Content-Length", str(len(data)))
                self.end_headers()
                self.wfile.write(data)
            except OSError:
                self.close_connection = True  # whoever asked is dead

        def log_message(self, format: str, *args: object) -> None:
            """Nothing is logged."""

    return Handler


def _message(carrier: FakeCarrier, sent: Sent) -> dict[str, object]:
    nothing: Sequence[str] = ("error_code", "error_message", "price", "date_sent", "messaging_service_sid")
    return dict.fromkeys(nothing) | {
        "sid": sent.sid, "account_sid": carrier.account, "status": "queued", "direction": "outbound-api",
        "from": carrier.number, "to": sent.to, "body": sent.body, "num_segments": "1", "num_media": "0",
        "price_unit": "USD", "api_version": "2010-04-01", "date_created": sent.created, "date_updated": sent.created,
        "uri": f"/2010-04-01/Accounts/{carrier.account}/Messages/{sent.sid}.json", "subresource_uris": {},
    }  # fmt: skip
