"""The demo as people start it, a process of its own, and the system's Chromium."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

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
STARTED_WITHIN = 90.0


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


@contextmanager
def running_demo(folder: Path) -> Iterator[str]:
    """Address of a demo whose database stands in ``folder``; it has to stop cleanly on Ctrl-C."""
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    environment = {name: value for name, value in os.environ.items() if not name.startswith("GUIDE_")}
    environment["GUIDE_DATABASE_URL"] = f"sqlite:///{folder}/larkwater.db"
    with (folder / "log").open("wb") as log:
        server = subprocess.Popen(
            [sys.executable, "-m", "guide_service", "demo", "--port", str(port)],
            cwd=ROOT,
            env=environment,
            stdout=log,
            stderr=subprocess.STDOUT,
        )
    try:
        _wait_until_ready(address, server, folder / "log")
        yield address
    finally:
        server.send_signal(signal.SIGINT)
        code = server.wait(timeout=20)
    assert code == 0, "Ctrl-C did not stop the demo cleanly"


def _wait_until_ready(address: str, server: subprocess.Popen[bytes], log: Path) -> None:
    until = time.monotonic() + STARTED_WITHIN
    while time.monotonic() < until and server.poll() is None:
        try:
            if httpx.get(f"{address}/readyz").status_code == 200:
                return
        except httpx.HTTPError:
            time.sleep(0.2)
    raise AssertionError(f"the demo did not start: {log.read_text()[-2000:]}")


def sign_in(page: Page, login: str = "county") -> None:
    page.goto("/console/sign-in")
    page.get_by_label("Login").fill(login)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/console")
