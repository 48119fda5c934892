"""The servers under load, each a process of its own with one event loop, as they run in service."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from typing import Any

from pydantic import SecretStr

from guide_service.records.migrating import migrate
from guide_service.settings import EXAMPLE_COUNTY, ROOT, Settings
from guide_service.wiring import Service, build_service
from tests import postgres
from tests.bench.load import Order, Result
from tests.postgres import free_port

TOKEN, NUMBER, SECRET = "token-of-the-benchmark", "+12025550100", "only-for-the-benchmark-" + "0123456789abcdef" * 2
START_WITHIN = 120.0


def environment(database_url: str, port: int) -> dict[str, str]:
    """A whole set of settings, so that it runs as in service and not as the demo."""
    return {
        "GUIDE_DATABASE_URL": database_url,
        "GUIDE_PUBLIC_URL": f"http://127.0.0.1:{port}",
        "GUIDE_CARRIER_ACCOUNT_SID": "AC" + "0" * 32,
        "GUIDE_CARRIER_AUTH_TOKEN": TOKEN,
        "GUIDE_CARRIER_NUMBER": NUMBER,
        "GUIDE_SECRET_KEY": SECRET,
        "GUIDE_COUNTY_FILE": str(EXAMPLE_COUNTY),
    }


@dataclass(frozen=True, slots=True)
class Place:
    """Where databases of one kind are made: a folder for SQLite, a server for PostgreSQL."""

    kind: str
    home: str

    def new(self, name: str) -> str:
        if self.kind == "SQLite":
            return f"sqlite:///{self.home}/{name}.db"
        return postgres.new_database(self.home, name)


@contextmanager
def places(kinds: Sequence[str] = ("SQLite", "PostgreSQL")) -> Iterator[list[Place]]:
    """One of each kind; none of PostgreSQL where there is no server."""
    with contextlib.ExitStack() as stack:
        home = stack.enter_context(tempfile.TemporaryDirectory(prefix="guide-bench-"))
        found = [Place("SQLite", home)] if "SQLite" in kinds else []
        if "PostgreSQL" in kinds:
            with contextlib.suppress(postgres.NoServer):
                found.append(Place("PostgreSQL", stack.enter_context(postgres.server())))
        yield found


@contextmanager
def own_service(database: str) -> Iterator[Service]:
    """A service of our own on that database, with every table, as it runs in service and not as the demo."""
    settings = Settings(
        database_url=SecretStr(database), public_url="http://127.0.0.1", carrier_account_sid="AC" + "0" * 32,
        carrier_auth_token=SecretStr(TOKEN), carrier_number=NUMBER, secret_key=SecretStr(SECRET),
        county_file=EXAMPLE_COUNTY,
    )  # fmt: skip
    service = build_service(settings)
    migrate(service.engine)
    service.in_force.seed(service.clock.now())
    try:
        yield service
    finally:
        service.sender.close()
        service.engine.dispose()


@contextmanager
def service_at(database_url: str) -> Iterator[Order]:
    """Our service; what it yields is an order without talks yet."""
    port = free_port()
    words = [sys.executable, "-m", "guide_service", "serve", "--port", str(port)]
    with _running(words, environment(database_url, port), port):
        yield Order(port, "/carrier/sms", TOKEN, NUMBER, [], "")


@contextmanager
def reference_at(database_url: str) -> Iterator[Order]:
    """The reference routes; ``replace(order, path="/echo")`` for the other one."""
    port = free_port()
    words = [
        sys.executable, "-m", "uvicorn", "tests.bench.reference_routes:create_app", "--factory", "--port", str(port),
        "--loop", "uvloop", "--http", "httptools", "--no-access-log", "--log-level", "warning",
    ]  # fmt: skip
    with _running(words, {"GUIDE_REFERENCE_URL": database_url, "GUIDE_REFERENCE_TOKEN": TOKEN}, port):
        yield Order(port, "/one", TOKEN, NUMBER, [], "")


@contextmanager
def _running(words: list[str], settings: dict[str, str], port: int) -> Iterator[None]:
    bare = {name: value for name, value in os.environ.items() if not name.startswith("GUIDE_")}
    process = subprocess.Popen(words, env=bare | settings, cwd=ROOT)
    try:
        _wait_for(process, port)
        yield
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=START_WITHIN)


def _wait_for(process: subprocess.Popen[bytes], port: int) -> None:
    until = time.monotonic() + START_WITHIN
    while time.monotonic() < until and process.poll() is None:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.05)
    raise RuntimeError(f"the server did not start: {' '.join(map(str, process.args))}")  # type: ignore[arg-type]


class Burst:
    """Loads of one server, one after the other; phones go on where the last load left them."""

    def __init__(self, order: Order, run: str) -> None:
        self.order = replace(order, run=run)

    def load(self, seconds: float) -> Result:
        """Raises when any answer was not a 200 with a message."""
        command = [sys.executable, "-m", "tests.bench.load"]
        pipes: dict[str, Any] = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
        order = replace(self.order, seconds=seconds)
        with subprocess.Popen(command, cwd=ROOT, **pipes) as process:
            assert process.stdin is not None
            assert process.stdout is not None
            process.stdin.write(json.dumps(asdict(order)) + "\n")
            process.stdin.flush()
            process.stdout.readline()
            out, _ = process.communicate("go\n")
        result = Result(**json.loads(out))
        if result.wrong:
            raise RuntimeError("wrong answers under load: " + " | ".join(result.wrong))
        self.order = replace(self.order, begin=self.order.begin + result.answers)
        return result
