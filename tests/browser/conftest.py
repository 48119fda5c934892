"""The demo as people start it, a process of its own, and the system's Chromium to look at it."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Request, sync_playwright

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


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    path = next((found for name in NAMES if (found := shutil.which(name))), None)
    if path is None:
        pytest.skip(f"no browser: none of {', '.join(NAMES)} is installed")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, headless=True, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a running demo."""
    folder, port = tmp_path_factory.mktemp("demo"), free_port()
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
        assert server.wait(timeout=20) == 0, "Ctrl-C did not stop the demo cleanly"


def _wait_until_ready(address: str, server: subprocess.Popen[bytes], log: Path) -> None:
    until = time.monotonic() + STARTED_WITHIN
    while time.monotonic() < until and server.poll() is None:
        try:
            if httpx.get(f"{address}/readyz").status_code == 200:
                return
        except httpx.HTTPError:
            time.sleep(0.2)
    raise AssertionError(f"the demo did not start: {log.read_text()[-2000:]}")


NewPage = Callable[..., Page]


@pytest.fixture
def new_page(chromium: Browser, demo: str) -> Iterator[NewPage]:
    """Opens pages; afterwards no script may have failed and no other host may have been asked for anything."""
    contexts: list[BrowserContext] = []
    troubles: list[str] = []

    def open_page(width: int = 1280, scheme: str = "light", *, script: bool = True) -> Page:
        context = chromium.new_context(
            base_url=demo,
            viewport={"width": width, "height": 900},
            color_scheme=scheme,  # type: ignore[arg-type]
            java_script_enabled=script,
        )
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: troubles.append(str(error)))
        page.on("request", _other_host)
        return page

    def _other_host(request: Request) -> None:
        if not request.url.startswith((demo, "data:")):
            troubles.append(f"asked {request.url}")

    yield open_page
    for context in contexts:
        context.close()
    assert troubles == []


def sign_in(page: Page, login: str = "county") -> None:
    page.goto("/console/sign-in")
    page.get_by_label("Login").fill(login)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/console")
