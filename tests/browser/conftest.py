"""Pages of a running demo in the system's Chromium."""

from __future__ import annotations

import itertools
import re
import threading
from collections.abc import Callable, Iterator

import httpx
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Request

from guide_service.settings import EXAMPLE_COUNTY
from tests.browser.running import Demo, NoBrowser, chromium_at_work, running_demo, text_in


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """Ends with the file of tests that asked for it: while it works it keeps an event loop running in the tests' own
    thread, where tests of other folders start loops of their own."""
    try:
        with chromium_at_work() as browser:
            yield browser
    except NoBrowser as reason:
        pytest.skip(str(reason))


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a running demo."""
    with running_demo(tmp_path_factory.mktemp("demo")) as running:
        yield running.address


@pytest.fixture(scope="session")
def own_demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    """Another demo, which may be stopped. A notice to more than two phones needs a second person there, and its number
    sends so slowly that there is a midway."""
    folder = tmp_path_factory.mktemp("own")
    county = EXAMPLE_COUNTY.read_text(encoding="utf-8")
    for name, value in (("second_person_above", "2"), ("segments_per_second", "0.2")):
        county, changed = re.subn(rf"(?m)^{name} = [\d.]+", f"{name} = {value}", county)
        assert changed == 1, name
    (folder / "county.toml").write_text(county, encoding="utf-8")
    with running_demo(folder, county_file=str(folder / "county.toml")) as running:
        yield running


NewPage = Callable[..., Page]


class Pages:
    """Opens pages of one demo; what a script failed at, and what another host was asked for, is written down."""

    def __init__(self, chromium: Browser, address: str) -> None:
        self._chromium, self._address = chromium, address
        self._contexts: list[BrowserContext] = []
        self.troubles: list[str] = []

    def open(self, width: int = 1280, scheme: str = "light", *, script: bool = True) -> Page:
        context = self._chromium.new_context(
            base_url=self._address,
            viewport={"width": width, "height": 900},
            color_scheme=scheme,  # type: ignore[arg-type]
            java_script_enabled=script,
            reduced_motion="reduce",
        )
        self._contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: self.troubles.append(str(error)))
        page.on("request", self._other_host)
        return page

    def _other_host(self, request: Request) -> None:
        if not request.url.startswith((self._address, "data:")):
            self.troubles.append(f"asked {request.url}")

    def close(self) -> None:
        for context in self._contexts:
            context.close()
        assert self.troubles == []


@pytest.fixture
def new_page(chromium: Browser, demo: str) -> Iterator[NewPage]:
    """Opens pages; afterwards no script may have failed and no other host may have been asked for anything."""
    pages = Pages(chromium, demo)
    yield pages.open
    pages.close()


@pytest.fixture
def own_page(chromium: Browser, own_demo: Demo) -> Iterator[NewPage]:
    """The same of the demo that may be stopped."""
    pages = Pages(chromium, own_demo.address)
    yield pages.open
    pages.close()


@pytest.fixture
def phones_at_work(demo: str) -> Iterator[None]:
    """Two practice phones that text all the while, as on a busy day; each text has to be answered."""
    over, failures = threading.Event(), list[str]()

    def write() -> None:
        turns = itertools.cycle((("+12025550191", "hello"), ("+12025550192", "how long does it take to dry")))
        for number, body in turns:
            if over.wait(0.5):
                return
            try:
                text_in(demo, number, body)
            except (AssertionError, httpx.HTTPError) as problem:
                failures.append(str(problem))

    writer = threading.Thread(target=write)
    writer.start()
    yield
    over.set()
    writer.join()
    assert failures == []
