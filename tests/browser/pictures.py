"""Makes the two pictures of the README anew, from a demo that has just begun.

python -m tests.browser.pictures
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from playwright.sync_api import Page, expect

from guide_service.settings import ROOT
from tests.browser.running import chromium_at_work, running_demo, sign_in

PICTURES = ROOT / "docs" / "pictures"
SIZE = {"width": 1100, "height": 760}


def practice_phone(page: Page) -> None:
    page.goto("/handset")
    chosen = page.get_by_role("button", name="202 555 0126")
    chosen.click()
    expect(chosen).to_have_attribute("aria-pressed", "true")
    page.screenshot(path=PICTURES / "practice-phone.png")


def agents_list(page: Page) -> None:
    sign_in(page)
    page.screenshot(path=PICTURES / "agents-list.png")


def main() -> None:
    PICTURES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, running_demo(Path(folder)) as address, chromium_at_work() as browser:
        page = browser.new_page(base_url=address, viewport=SIZE)  # type: ignore[arg-type]
        practice_phone(page)
        agents_list(page)


if __name__ == "__main__":
    main()
