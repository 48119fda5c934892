"""Bears the processes that are killed: imports everything once, then forks a web process or a worker on request.

Run by ``episode.Crew`` with the settings in the environment; reads ``web`` or ``work`` a line, answers ``web <pid>``.
What is born runs the real application or worker; only the carrier's address is loopback, leases are short, and the
clock is the demo's row in the database.
"""

from __future__ import annotations

import os
import signal
import sys
import threading

import httpx
import uvicorn

from guide_service import jobs
from guide_service.app import create_app
from guide_service.carrier.recording import RecordingSender
from guide_service.carrier.sending import CarrierSender
from guide_service.clock import DatabaseClock, FixedClock
from guide_service.database import make_engine
from guide_service.followup.worker import run
from guide_service.settings import Settings, read_settings
from guide_service.wiring import Service, build_service
from tests.conftest import MONDAY_NOON

LEASE_SECONDS = 1.0
"""Longer than this carrier's slowest answer; the real one is two minutes."""


class ToLoopback(httpx.HTTPTransport):
    """The carrier's address leads to the fake one."""

    def __init__(self, port: int) -> None:
        super().__init__()
        self.port = port

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        request.url = request.url.copy_with(scheme="http", host="127.0.0.1", port=self.port)
        return super().handle_request(request)


def born(prepared: Service, settings: Settings) -> Service:
    """A service with connections of its own: nothing of them is shared with another process."""
    engine = make_engine(settings.database)
    http = httpx.Client(transport=ToLoopback(int(os.environ["KILL_CARRIER_PORT"])), timeout=5.0)
    return prepared.on(
        engine,
        clock=DatabaseClock(engine),
        sender=CarrierSender(settings.account_sid, settings.auth_token, settings.number, http),
    )


def live(role: str, service: Service) -> None:
    jobs.LEASE_SECONDS = LEASE_SECONDS
    if role == "web":
        port = int(os.environ["KILL_WEB_PORT"])
        uvicorn.run(create_app(service), host="127.0.0.1", port=port, access_log=False, log_level="critical")
    else:
        run(service, threading.Event(), worker_name=f"worker-{os.getpid()}", poll_seconds=0.05)


def main() -> None:
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # the killed are not waited for
    settings = read_settings()
    prepared = build_service(settings, clock=FixedClock(MONDAY_NOON), sender=RecordingSender())
    for line in sys.stdin:
        role = line.strip()
        pid = os.fork()
        if pid == 0:
            sys.stdin.close()
            live(role, born(prepared, settings))
            os._exit(0)
        sys.stdout.write(f"{role} {pid}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
