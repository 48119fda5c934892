"""One's own account and a measuring round, in a real browser, on a desk and on a phone."""

from __future__ import annotations

import pyotp
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from guide_service.demo import PASSWORD
from tests.browser.conftest import NewPage

pytestmark = pytest.mark.browser


def come_in(page: Page, login: str) -> None:
    page.goto("/console/sign-in")
    page.get_by_label("Login").fill(login)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda address: not address.endswith("/sign-in"))


def account(page: Page) -> None:
    come_in(page, "walker")
    page.get_by_role("link", name="Lee Ward").click()


def begin(page: Page) -> str:
    """The page with the square code; the key that it holds."""
    account(page)
    page.get_by_role("link", name="Set it up").click()
    start = page.get_by_role("button", name="Begin", exact=True)
    if start.count():
        start.click()
    expect(page.get_by_role("img", name="Square code")).to_be_visible()
    return "".join(page.locator(".key span").all_text_contents())


def assign(page: Page) -> None:
    """Sends the volunteer to the first house of the list whose places are set up."""
    come_in(page, "rivera")
    page.locator("li.need h2 a", has_text="Drying has stalled").first.click()
    page.get_by_role("link", name="Measuring round").click()
    page.locator("select[name=volunteer]").select_option(label="Lee Ward")
    page.get_by_role("button", name="Assign", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("Assigned")


def own_round(page: Page) -> None:
    assign(page)
    page.get_by_role("button", name="Sign out", exact=True).click()
    come_in(page, "walker")
    expect(page.get_by_role("heading", name="Your round")).to_be_visible()


def at_the_house(page: Page) -> None:
    own_round(page)
    page.locator(".houses a").first.click()
    fields = page.locator(".place input")
    fields.nth(0).fill("17")
    fields.nth(1).fill("185")
    page.get_by_label("The meter was set").select_option(label="on wood, with pins")
    page.get_by_role("button", name="Store the readings").click()
    expect(page.get_by_role("status")).to_contain_text("1 reading is stored.")


def test_a_second_factor_is_set_up_asked_for_and_taken_off(new_page: NewPage) -> None:
    page = new_page(390)
    key = begin(page)
    page.get_by_label("The six digits").fill(pyotp.TOTP(key).now())
    page.get_by_role("button", name="Set it up").click()
    codes = page.locator(".codes li").all_text_contents()
    assert len(codes) == 10
    page.get_by_role("button", name="Sign out", exact=True).click()
    come_in(page, "walker")
    expect(page.get_by_role("heading", name="Code of your authenticator app")).to_be_visible()
    assert Axe().run(page).violations_count == 0
    page.get_by_label("Six digits").fill(codes[0])
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="Your round")).to_be_visible()
    page.goto("/console/account/second-factor")
    assert Axe().run(page).violations_count == 0
    page.get_by_label("Code of the app, or a recovery code").fill(codes[1])
    page.get_by_role("button", name="Take it off").click()
    expect(page.get_by_role("status")).to_have_text("The second factor is taken off.")


def test_a_volunteer_enters_readings_on_a_phone_and_what_is_not_certain_is_asked(new_page: NewPage) -> None:
    page = new_page(390, script=False)
    at_the_house(page)
    expect(page.get_by_role("alert")).to_contain_text("1 number is not certain")
    page.get_by_label("The meter shows 18.5").check()
    page.get_by_role("button", name="Store the readings").click()
    expect(page.get_by_role("status")).to_contain_text("They count once they are confirmed.")


PAGES = (account, begin, assign, own_round, at_the_house)


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (1280, "dark"), (390, "light")])
@pytest.mark.parametrize("visit", PAGES)
def test_axe_has_nothing_to_object_to_and_nothing_is_too_wide(
    new_page: NewPage, visit: object, width: int, scheme: str
) -> None:
    page = new_page(width, scheme)
    visit(page)  # type: ignore[operator]
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    result = Axe().run(page)
    assert result.violations_count == 0, result.generate_report()
