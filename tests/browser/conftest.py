"""Pages of a running demo in the system's Chromium."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Request

from tests.browser.running import NoBrowser, chromium_at_work, running_demo


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    try:
        with chromium_at_work() as browser:
            yield browser
    except NoBrowser as reason:
        pytest.skip(str(reason))


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a running demo."""
    with running_demo(tmp_path_factory.mktemp("demo")) as address:
        yield address


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
