"""The pages in Spanish, whose words are longer, and turned around as a language written from the right turns them."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from guide_service.console.tongue import COOKIE
from guide_service.demo import PASSWORD
from tests.browser.conftest import NewPage
from tests.browser.running import sign_in
from tests.browser.walk import STATES, Visit, pages

pytestmark = pytest.mark.browser
IN_ENGLISH_ONLY = {"/handset", "/console/handbook"}
REACHED_BY_A_FORM = {"/console/sign-in/code", "/log/sheet"}
"""Shown again by its address the page would be another one, or is looked at elsewhere."""
BY_ROUTE = {
    path: visit for path, visit in pages().items() if path not in IN_ENGLISH_ONLY | REACHED_BY_A_FORM
    and visit not in STATES
}  # fmt: skip
SIDEWAYS = """() => {
    const room = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth <= room) return [];
    return [...document.querySelectorAll("body *")].filter((each) => {
        const box = each.getBoundingClientRect();
        return box.right > room + 1 || box.left < -1;
    }).map((each) => `${each.tagName}.${each.className}: ${each.textContent.trim().slice(0, 40)}`);
}"""
CUT = """() => [...document.querySelectorAll("svg.curve text")].filter((each) => {
    const room = each.ownerSVGElement.getBoundingClientRect(), box = each.getBoundingClientRect();
    return box.left < room.left - 1 || box.right > room.right + 1;
}).map((each) => each.textContent)"""


def in_spanish(page: Page, visit: Visit) -> None:
    """The way there is walked in English: then its words can be looked for."""
    visit(page)
    page.context.add_cookies([{"name": COOKIE, "value": "es", "url": page.url}])
    page.goto(page.url)
    expect(page.locator("html")).to_have_attribute("lang", "es")


@pytest.mark.parametrize("path", BY_ROUTE)
def test_nothing_is_too_wide_in_spanish_or_turned_around(new_page: NewPage, path: str) -> None:
    page = new_page()
    in_spanish(page, BY_ROUTE[path])
    for direction in ("ltr", "rtl"):
        page.evaluate("to => { document.documentElement.dir = to; }", direction)
        for width in (1280, 390):
            page.set_viewport_size({"width": width, "height": 900})
            assert page.evaluate(SIDEWAYS) == [], (direction, width)
            assert page.evaluate(CUT) == [], (direction, width)


def test_a_page_turned_around_begins_at_the_right(new_page: NewPage) -> None:
    page = new_page()
    sign_in(page)
    heading = page.get_by_role("heading", level=1)
    bar = page.locator("li.need").first
    at_left = heading.bounding_box(), bar.evaluate("each => getComputedStyle(each).borderLeftWidth")
    page.evaluate("() => { document.documentElement.dir = 'rtl'; }")
    at_right = heading.bounding_box(), bar.evaluate("each => getComputedStyle(each).borderRightWidth")
    assert at_left[0] is not None
    assert at_right[0] is not None
    assert at_right[0]["x"] > at_left[0]["x"] + 300
    assert at_left[1] == at_right[1]


def test_an_agent_chooses_the_language_and_keeps_it(own_page: NewPage) -> None:
    page = own_page()
    sign_in(page, "rivera")
    page.goto("/console/account")
    page.locator("select[name=language]").select_option(label="Espa\u00f1ol")
    page.get_by_role("button", name="Use it").click()
    expect(page.get_by_role("status")).to_contain_text("le hablan en este idioma")
    page.get_by_role("button", name="Salir", exact=True).click()
    page.get_by_role("link", name="English").click()
    expect(page.get_by_role("heading", name="Agents' sign-in")).to_be_visible()
    page.get_by_role("link", name="Espa\u00f1ol").click()
    expect(page.get_by_role("heading", name="Entrada de agentes")).to_be_visible()
    sign_in_again(page)
    page.locator("select[name=language]").select_option(label="English")
    page.get_by_role("button", name="Usarlo").click()
    expect(page.get_by_role("heading", name="Language of these pages")).to_be_visible()


def sign_in_again(page: Page) -> None:
    page.get_by_label("Usuario").fill("rivera")
    page.get_by_label("Contrase\u00f1a").fill(PASSWORD)
    page.get_by_role("button", name="Entrar").click()
    page.goto("/console/account")
