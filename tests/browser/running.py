"""The demo as people start it, a process of its own, and the system's Chromium."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from zoneinfo import ZoneInfo

import httpx
from playwright.sync_api import Browser, Page, sync_playwright

from guide_service.demo import PASSWORD
from guide_service.settings import ROOT
from tests.postgres import free_port

NAMES = ("chromium", "chromium-browser", "google-chrome")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
STARTED_WITHIN = 300.0
"""Seconds; half a minute on a machine with nothing else to do."""


class NoBrowser(Exception):
    """There is no Chromium on this machine; the text is the reason that a skipped test shows."""


@contextmanager
def chromium_at_work() -> Iterator[Browser]:
    path = next((found for name in NAMES if (found := shutil.which(name))), None)
    if path is None:
        raise NoBrowser(f"no browser: none of {', '.join(NAMES)} is installed")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, headless=True, args=FLAGS)
        yield browser
        browser.close()


class Demo:
    """A demo in a process of its own, whose database stands in ``folder``; it can be stopped and started again."""

    def __init__(self, folder: Path, **settings: str) -> None:
        """``settings``: of the service, by their names in lower case."""
        self.folder, self.port = folder, free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self.database = folder / "larkwater.db"
        others = {name: value for name, value in os.environ.items() if not name.startswith("GUIDE_")}
        own = {f"GUIDE_{name.upper()}": value for name, value in settings.items()}
        self._environment = {**others, **own, "GUIDE_DATABASE_URL": f"sqlite:///{self.database}"}
        self._server: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        with (self.folder / "log").open("ab") as log:
            self._server = subprocess.Popen(
                [sys.executable, "-m", "guide_service", "demo", "--port", str(self.port)],
                cwd=ROOT,
                env=self._environment,
                stdout=log,
                stderr=subprocess.STDOUT,
            )
        try:
            _wait_until_ready(self.address, self._server, self.folder / "log")
        except AssertionError:
            self._server.kill()
            self._server = None
            raise

    def stop(self) -> None:
        """As Ctrl-C does; it has to end cleanly."""
        server, self._server = self._server, None
        if server is not None:
            server.send_signal(signal.SIGINT)
            assert server.wait(timeout=20) == 0, "Ctrl-C did not stop the demo cleanly"


@contextmanager
def running_demo(folder: Path, **settings: str) -> Iterator[Demo]:
    demo = Demo(folder, **settings)
    try:
        demo.start()
        yield demo
    finally:
        demo.stop()


def _wait_until_ready(address: str, server: subprocess.Popen[bytes], log: Path) -> None:
    until = time.monotonic() + STARTED_WITHIN
    while time.monotonic() < until and server.poll() is None:
        try:
            if httpx.get(f"{address}/readyz").status_code == 200:
                return
        except httpx.HTTPError:
            time.sleep(0.2)
    raise AssertionError(f"the demo did not start: {log.read_text()[-2000:]}")


def text_in(address: str, number: str, body: str) -> None:
    """A text from the practice phone."""
    answer = httpx.post(f"{address}/handset/texts", json={"number": number, "body": body}, timeout=20)
    assert answer.status_code == 200, answer.text


def to_office_hours(address: str) -> None:
    """Moves a demo's clock to ten in the morning, so that what it sends does not wait for the end of the night."""
    now = httpx.post(f"{address}/handset/clock", json={"advance_minutes": 0}, timeout=20).json()["now"]
    local = dt.datetime.fromisoformat(now).astimezone(ZoneInfo("America/New_York"))
    ten = local.replace(hour=10, minute=0)
    wait = ten - local if ten > local else ten + dt.timedelta(days=1) - local
    minutes = 0 if 9 <= local.hour < 19 else int(wait.total_seconds() // 60)
    httpx.post(f"{address}/handset/clock", json={"advance_minutes": minutes}, timeout=20).raise_for_status()


def sign_in(page: Page, login: str = "county") -> None:
    page.goto("/console/sign-in")
    page.get_by_label("Login").fill(login)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda address: not address.endswith("/sign-in"))
