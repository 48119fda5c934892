"""Every page in both themes and on both widths: nothing for axe to object to, nothing wider than the screen."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.conftest import NewPage
from tests.browser.running import sign_in

pytestmark = pytest.mark.browser


def sign_in_page(page: Page) -> None:
    page.goto("/console/sign-in")


def refused_sign_in(page: Page) -> None:
    page.goto("/console/sign-in")
    page.get_by_label("Login").fill("nobody")
    page.get_by_label("Password").fill("nothing")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("alert").wait_for()


def waiting_list(page: Page) -> None:
    sign_in(page)
    page.get_by_text("New water in an area").click()


def settled_list(page: Page) -> None:
    sign_in(page)
    page.goto("/console?state=settled")


def household(page: Page, heading: str = "Drying has stalled") -> None:
    sign_in(page)
    page.locator("li.need h2 a", has_text=heading).first.click()
    page.get_by_text("readings", exact=False).last.click()


def household_with_mould(page: Page) -> None:
    sign_in(page)
    page.locator("li.need h2 a", has_text="Mould reported").first.click()
    page.get_by_role("button", name="Show number").click()
    page.get_by_text("+1202555").wait_for()


def household_with_every_tool_open(page: Page) -> None:
    sign_in(page)
    page.locator("li.need h2 a", has_text="Drying has stalled").first.click()
    for tool in page.locator("details.tool summary").all():
        tool.click()
    page.locator("figure img").first.scroll_into_view_if_needed()


def number_to_call(page: Page) -> None:
    sign_in(page)
    page.get_by_role("button", name="Call").first.click()
    page.get_by_role("link", name="Call +1202555").wait_for()


def readings_not_understood(page: Page) -> None:
    sign_in(page)
    page.locator("li.need h2 a", has_text="Drying has stalled").first.click()
    page.get_by_text("Readings of a visit").click()
    page.get_by_label("As a household would text them").fill("U1 245 19 17")
    page.get_by_role("button", name="Add the readings").click()
    page.get_by_role("alert").wait_for()


def routine_mould(page: Page) -> None:
    for body in ("hello", "i see mold"):
        page.request.post("/handset/texts", data={"number": "+12025550172", "body": body})
    sign_in(page)
    page.get_by_role("heading", name="Routine mould reports").wait_for()


def long_answer(page: Page) -> None:
    sign_in(page)
    page.locator("li.need h2 a").first.click()
    page.get_by_label("Answer by text").fill("x" * 500)
    page.get_by_role("button", name="Send").click()
    page.get_by_role("alert").wait_for()


def not_found(page: Page) -> None:
    sign_in(page)
    page.goto("/console/households/1")


def county_in_numbers(page: Page) -> None:
    sign_in(page)
    page.goto("/console/county")
    page.get_by_text("The curve in numbers").click()
    page.locator("svg.curve").scroll_into_view_if_needed()


def situation_report(page: Page) -> None:
    sign_in(page)
    page.goto("/console/county")
    page.get_by_role("link", name="Situation report").click()
    page.get_by_text("KNOWN GAPS").wait_for()


def practice_phone(page: Page) -> None:
    page.goto("/handset")
    page.get_by_role("button", name="202 555 0126").click()
    page.locator(".received").first.wait_for()


PAGES = (
    sign_in_page,
    refused_sign_in,
    waiting_list,
    settled_list,
    household,
    household_with_mould,
    household_with_every_tool_open,
    number_to_call,
    readings_not_understood,
    routine_mould,
    long_answer,
    not_found,
    county_in_numbers,
    situation_report,
    practice_phone,
)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("visit", PAGES)
def test_axe_has_nothing_to_object_to(new_page: NewPage, visit: object, scheme: str) -> None:
    page = new_page(1280, scheme)
    visit(page)  # type: ignore[operator]
    result = Axe().run(page)
    assert result.violations_count == 0, result.generate_report()


@pytest.mark.parametrize("visit", PAGES)
def test_nothing_is_wider_than_a_phone_and_axe_agrees_there(new_page: NewPage, visit: object) -> None:
    page = new_page(390)
    visit(page)  # type: ignore[operator]
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    result = Axe().run(page)
    assert result.violations_count == 0, result.generate_report()


def test_axe_would_object_to_a_field_without_a_label(new_page: NewPage) -> None:
    page = new_page()
    page.goto("/console/sign-in")
    page.locator("input[name=login]").evaluate("field => field.parentElement.replaceWith(field)")
    assert [each["id"] for each in Axe().run(page).response["violations"]] == ["label"]
