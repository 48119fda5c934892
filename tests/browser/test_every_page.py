"""Every page there is, in both themes, on a desk and on a phone, enlarged, and by keyboard alone.

The pages come from the routes of the application (``walk``): a new one is in all of these tests at once.
"""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.conftest import NewPage
from tests.browser.walk import NO_PAGES, Visit, at_address, household_with_every_tool_open, pages
from tests.console.who_may_what import rows

pytestmark = pytest.mark.browser
PAGES = [pytest.param(visit, id=name) for name, visit in pages().items()]
RULES = {
    "resultTypes": ["violations"],
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
}
"""WCAG 2.2 AA and what axe counts as good practice; target-size, of 2.2, is off unless it is asked for."""


def objections(page: Page) -> str:
    """What axe has to say against the page as it stands; empty for nothing."""
    result = Axe().run(page, options=RULES)
    return result.generate_report() if result.violations_count else ""


def too_wide(page: Page) -> list[str]:
    """What makes the page scroll sideways."""
    return page.evaluate(
        """() => {
            const room = document.documentElement.clientWidth;
            if (document.documentElement.scrollWidth <= room) return [];
            return [...document.querySelectorAll("body *")]
                .filter((each) => each.getBoundingClientRect().right > room + 1 && !each.closest(".scroll"))
                .map((each) => `${each.tagName}.${each.className}: ${each.textContent.trim().slice(0, 40)}`);
        }"""
    )


@pytest.mark.parametrize("visit", PAGES)
def test_axe_has_nothing_to_object_to_and_nothing_is_too_wide(new_page: NewPage, visit: Visit) -> None:
    page = new_page()
    visit(page)
    assert strange_links(page) == []
    for width, scheme in ((1280, "light"), (1280, "dark"), (390, "light"), (390, "dark")):
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        assert too_wide(page) == [], (width, scheme)
        assert objections(page) == "", (width, scheme)
    page.emulate_media(media="print", color_scheme="dark")
    assert dark_on_paper(page) == []


def dark_on_paper(page: Page) -> list[str]:
    """What a printer would fill with ink, or write in ink too pale to be read."""
    return page.evaluate(
        """() => {
            const light = (colour) => {
                const [r, g, b, a = 1] = (colour.match(/[\\d.]+/g) ?? [0, 0, 0, 0]).map(Number);
                return a < 0.5 ? null : (0.2126 * r + 0.7152 * g + 0.0722 * b) / 255;
            };
            const all = [document.documentElement, ...document.querySelectorAll("body, body *:not(svg *)")];
            return all.filter((each) => {
                if (!each.checkVisibility()) return false;
                const style = getComputedStyle(each), ground = light(style.backgroundColor);
                return (ground !== null && ground < 0.7) || light(style.color) > 0.6;
            }).map((each) => `${each.tagName}.${each.className}: ${each.textContent.trim().slice(0, 40)}`);
        }"""
    )


def strange_links(page: Page) -> list[str]:
    """Links that lead nowhere: what an address never looks like."""
    links = page.locator("a[href]").evaluate_all("links => links.map((each) => each.getAttribute('href'))")
    return [link for link in links if not re.fullmatch(r"|[/#?][^\s'\"()]*|tel:\+\d+|https://\S+", link)]


@pytest.mark.parametrize("visit", PAGES)
def test_a_page_at_twice_its_size_scrolls_one_way_only(new_page: NewPage, visit: Visit) -> None:
    page = new_page()
    visit(page)
    page.set_viewport_size({"width": 640, "height": 450})  # what a desk of 1280 shows at 200 %
    assert too_wide(page) == []
    page.set_viewport_size({"width": 1280, "height": 900})
    page.evaluate("document.documentElement.style.fontSize = '200%'")  # only the letters are enlarged
    assert too_wide(page) == []


REACHABLE = """() => {
    const kinds = "a[href], button, input, select, textarea, summary, [tabindex]";
    const groups = new Set();
    const rests = [...document.querySelectorAll(kinds)].filter((each) => {
        if (each.disabled || each.tabIndex < 0 || each.type === "hidden" || !each.checkVisibility()) return false;
        if (each.type !== "radio") return true;
        const group = `${each.form?.action} ${each.name}`;  // the arrow keys move inside a group
        return groups.has(group) ? false : groups.add(group);
    });
    rests.forEach((each, index) => { each.dataset.stop = index; });
    return rests.map((each) => `${each.tagName} ${each.textContent.trim().slice(0, 40)} ${each.name ?? ""}`);
}"""
FOCUSED = """() => {
    const now = document.activeElement;
    if (now === document.body) return null;
    const style = getComputedStyle(now);
    const seen = now.getBoundingClientRect();
    return {
        stop: now.dataset.stop === undefined ? -1 : Number(now.dataset.stop),
        shown: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
        onScreen: seen.bottom > 0 && seen.top < innerHeight && seen.width > 0,
        what: now.outerHTML.slice(0, 120),
    };
}"""


def stops_of_tab(page: Page, most: int) -> list[dict[str, object]]:
    """What the tabulator rests on, one after the other, from the top of the page to its end."""
    page.evaluate("() => { document.activeElement?.blur(); getSelection()?.removeAllRanges(); scrollTo(0, 0); }")
    page.evaluate(  # where the keyboard begins is where one clicked last; the walk begins at the top
        "() => { const top = document.createElement('span'); top.tabIndex = -1; document.body.prepend(top);"
        " top.focus(); top.remove(); }"
    )
    found: list[dict[str, object]] = []
    for _ in range(most):
        page.keyboard.press("Tab")
        now = page.evaluate(FOCUSED)
        if now is None or (found and now["stop"] == found[0]["stop"]):
            return found
        found.append(now)
    return found


@pytest.mark.parametrize("visit", PAGES)
def test_the_keyboard_reaches_everything_in_order_sees_where_it_is_and_gets_out(
    new_page: NewPage, visit: Visit
) -> None:
    page = new_page()
    visit(page)
    reachable = page.evaluate(REACHABLE)
    stops = stops_of_tab(page, 2 * len(reachable) + 10)
    reached = list(dict.fromkeys(stop["stop"] for stop in stops))
    assert [reachable[each] for each in range(len(reachable)) if each not in reached] == []
    assert reached == list(range(len(reachable))), "not in the order of the page"
    assert [stop["what"] for stop in stops if not stop["shown"]] == [], "the focus cannot be seen"
    assert [stop["what"] for stop in stops if not stop["onScreen"]] == []
    assert len(stops) <= 2 * len(reachable), "no way out"


def test_what_is_left_out_is_no_page(new_page: NewPage) -> None:
    table = {path: who for (method, path), who in rows().items() if method == "GET"}
    assert set(table) >= NO_PAGES
    page = new_page()
    household_with_every_tool_open(page)
    place = (page.locator("figure img").first.get_attribute("src") or "").split("/")[-2]
    ids = {"household": page.url.split("?")[0].split("/")[-1], "place": place, "language": "ar"}
    for path in NO_PAGES:
        own = path.endswith(("/stream", "/log/sheet.pdf", "/handset/texts", "{picture}"))
        if own or "{notice}" in path or "{message}" in path:
            continue  # never ends, or needs more than an address and a signed-in agent: their own tests look at them
        answer = page.request.get(path.format(**ids))
        assert answer.ok, path
        assert "<html" not in answer.text() or "html" not in answer.headers["content-type"], path


def test_axe_would_object_to_a_field_without_a_label(new_page: NewPage) -> None:
    page = new_page()
    at_address("/console/sign-in", "anybody")(page)
    page.locator("input[name=login]").evaluate("field => field.parentElement.replaceWith(field)")
    assert "label" in objections(page)


def test_a_link_that_the_keyboard_cannot_reach_would_be_found(new_page: NewPage) -> None:
    page = new_page()
    at_address("/console/sign-in", "anybody")(page)
    page.locator("input[name=password]").evaluate(
        "field => field.addEventListener('focus', () => document.querySelector('input[name=login]').focus())"
    )
    reachable = page.evaluate(REACHABLE)
    stops = stops_of_tab(page, 20)
    assert {stop["stop"] for stop in stops} != set(range(len(reachable)))
