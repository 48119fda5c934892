"""The practice phone's page in a real browser."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import NewPage

pytestmark = pytest.mark.browser


def test_a_new_number_texts_and_sees_the_reply_with_its_segments(new_page: NewPage) -> None:
    phone = new_page(390)
    phone.goto("/handset")
    phone.get_by_label("Another number").fill("202 555 0171")
    phone.get_by_role("button", name="Use it").click()
    expect(phone.get_by_role("heading", name="Texts of 202 555 0171")).to_be_visible()
    phone.get_by_label("Text to the county").fill("hello")
    phone.keyboard.press("Enter")
    expect(phone.locator(".sent .body")).to_have_text("hello")
    expect(phone.locator(".received .body").first).to_contain_text("Larkwater County Extension")
    expect(phone.locator(".received .meta").first).to_contain_text("segment")
    expect(phone.get_by_label("Text to the county")).to_have_value("")


def test_a_number_of_somebody_is_refused_beside_the_form(new_page: NewPage) -> None:
    phone = new_page()
    phone.goto("/handset")
    phone.get_by_label("Another number").fill("415 555 2671")
    phone.get_by_role("button", name="Use it").click()
    expect(phone.locator("#trouble")).to_contain_text("555-0100 to 555-0199")


def test_time_passes_by_a_button(new_page: NewPage) -> None:
    phone = new_page()
    phone.goto("/handset")
    clock = phone.locator("#now")
    expect(clock).not_to_be_empty()
    before = clock.get_attribute("datetime") or ""
    phone.get_by_role("button", name="1 hour").click()
    expect(clock).not_to_have_attribute("datetime", before)
    after = clock.get_attribute("datetime") or ""
    assert (int(after[11:13]) - int(before[11:13])) % 24 in (1, 2)


def test_a_call_by_keys_on_a_small_screen(new_page: NewPage) -> None:
    phone = new_page(390)
    phone.goto("/handset")
    phone.get_by_label("Another number").fill("202 555 0194")
    phone.get_by_role("button", name="Use it").click()
    expect(phone.get_by_role("heading", name="Texts of 202 555 0194")).to_be_visible()
    phone.get_by_role("button", name="Call", exact=True).click()
    expect(phone.locator("#heard")).to_contain_text("Larkwater County Extension")
    phone.get_by_role("group", name="Keys").get_by_role("button", name="1", exact=True).click()
    expect(phone.locator("#heard")).to_contain_text("May we call you here")
    phone.get_by_role("button", name="Hang up").click()
    expect(phone.locator("#heard")).to_contain_text("You hung up.")
    expect(phone.get_by_role("button", name="Call", exact=True)).to_be_visible()
