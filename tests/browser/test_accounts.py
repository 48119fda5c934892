"""One's own account and a measuring round, in a real browser, on a desk and on a phone."""

from __future__ import annotations

import pyotp
import pytest
from playwright.sync_api import expect

from tests.browser.conftest import NewPage
from tests.browser.running import sign_in
from tests.browser.walk import begin_second_factor, doubtful_reading_of_round

pytestmark = pytest.mark.browser


def test_a_second_factor_is_set_up_asked_for_and_taken_off(new_page: NewPage) -> None:
    page = new_page(390)
    sign_in(page, "walker")
    key = begin_second_factor(page)
    page.get_by_label("The six digits").fill(pyotp.TOTP(key).now())
    page.get_by_role("button", name="Set it up").click()
    codes = page.locator(".codes li").all_text_contents()
    assert len(codes) == 10
    page.get_by_role("button", name="Sign out", exact=True).click()
    sign_in(page, "walker")
    expect(page.get_by_role("heading", name="Code of your authenticator app")).to_be_visible()
    page.get_by_label("Six digits").fill(codes[0])
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="Your round")).to_be_visible()
    page.goto("/console/account/second-factor")
    page.get_by_label("Code of the app, or a recovery code").fill(codes[1])
    page.get_by_role("button", name="Take it off").click()
    expect(page.get_by_role("status")).to_have_text("The second factor is taken off.")


def test_a_volunteer_enters_readings_on_a_phone_and_what_is_not_certain_is_asked(new_page: NewPage) -> None:
    page = new_page(390, script=False)
    doubtful_reading_of_round(page)
    expect(page.get_by_role("alert")).to_contain_text("1 number is not certain")
    page.get_by_label("The meter shows 18.5").check()
    page.get_by_role("button", name="Store the readings").click()
    expect(page.get_by_role("status")).to_contain_text("They count once they are confirmed.")
