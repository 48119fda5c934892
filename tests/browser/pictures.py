"""Makes the pictures of README and handbook anew, from a demo that has just begun.

python -m tests.browser.pictures            all of them
python -m tests.browser.pictures county     some
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Mapping
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect

from guide_service.console.handbook import PICTURES
from tests.browser import walk
from tests.browser.running import chromium_at_work, running_demo, sign_in

DESK, PHONE = (1000, 720), (390, 720)
COLOURS = 64
"""Our pages have few colours: a palette keeps a picture at a tenth of its size."""

Shot = Page | Locator
"""What is taken: the part of the page that the screen shows, or one element."""


def practice_phone(page: Page) -> Shot:
    walk.practice_phone(page)
    expect(page.get_by_role("button", name="202 555 0126")).to_have_attribute("aria-pressed", "true")
    page.evaluate("scrollTo(0, 0)")
    return page


def agents_list(page: Page) -> Shot:
    sign_in(page)
    return page


def second_factor(page: Page) -> Shot:
    walk.second_factor_begun(page)
    return page


def household(page: Page) -> Shot:
    walk.household(page)
    return page


def answering(page: Page) -> Shot:
    walk.household(page, "Asked for a person")
    page.get_by_label("Answer by text").fill("Ana here. I will call you at 3.")
    page.get_by_text("Ready-made sentences").click()
    page.locator("#conversation").evaluate("heading => heading.scrollIntoView()")
    return page


def walls(page: Page) -> Shot:
    """A house that has dried for some weeks, its readings not all told."""
    sign_in(page)
    page.goto("/console/finding?q=tannery")
    page.locator("tbody th a").first.click()
    return page.locator("section[aria-labelledby=places]")


def drying_plot(page: Page) -> Shot:
    walls(page)
    page.get_by_text("Drying plots of").click()
    picture = page.locator("figure img").first
    picture.scroll_into_view_if_needed()
    expect(picture).to_have_js_property("complete", True)
    return picture


def round_on_a_phone(page: Page) -> Shot:
    walk.house_of_round(page)
    return page


def finding(page: Page) -> Shot:
    sign_in(page)
    page.goto("/console/finding")
    return page


def county(page: Page) -> Shot:
    sign_in(page)
    page.goto("/console/county")
    return page


def log_pin(page: Page) -> Shot:
    walk.log_with_pin(page)
    return page


def notice(page: Page) -> Shot:
    sign_in(page)
    walk.write_notice(page)
    page.reload()
    return page


def recall(page: Page) -> Shot:
    walk.recall_preview(page)
    return page


TAKEN: Mapping[str, tuple[Callable[[Page], Shot], tuple[int, int]]] = {
    "practice-phone": (practice_phone, DESK),
    "agents-list": (agents_list, DESK),
    "second-factor": (second_factor, PHONE),
    "household": (household, DESK),
    "answering": (answering, DESK),
    "walls": (walls, (880, 720)),
    "drying-plot": (drying_plot, (1400, 720)),
    "round-on-a-phone": (round_on_a_phone, PHONE),
    "finding": (finding, DESK),
    "county": (county, DESK),
    "log-pin": (log_pin, DESK),
    "notice": (notice, DESK),
    "recall": (recall, DESK),
}
"""File name without ``.png`` -> how it is taken, and on which screen [px]."""


def take(browser: Browser, address: str, name: str) -> None:
    visit, (width, height) = TAKEN[name]
    page = browser.new_page(base_url=address, viewport={"width": width, "height": height})
    shot = visit(page).screenshot()
    small = Image.open(BytesIO(shot)).convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
    small.save(PICTURES / f"{name}.png", optimize=True)
    page.close()


def main(names: list[str]) -> None:
    PICTURES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, running_demo(Path(folder)) as demo, chromium_at_work() as browser:
        for name in names or TAKEN:
            take(browser, demo.address, name)


if __name__ == "__main__":
    main(sys.argv[1:])
