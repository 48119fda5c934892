"""An agent at the pages, in a real browser, while the practice phone texts."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from guide_service.wording.segments import segments
from tests.browser.conftest import NewPage
from tests.browser.running import sign_in, text_in

pytestmark = pytest.mark.browser


def open_household(page: Page, digits: str) -> None:
    page.locator("li.need", has_text=digits).first.get_by_role("link").click()
    expect(page.get_by_role("heading", name="Conversation")).to_be_visible()


def test_an_agent_signs_in_claims_answers_and_the_phone_gets_it(new_page: NewPage, demo: str) -> None:
    text_in(demo, "+12025550161", "hello")
    text_in(demo, "+12025550161", "can someone call me please")
    desk = new_page()
    sign_in(desk)
    open_household(desk, "0161")
    desk.get_by_role("button", name="Claim").first.click()
    expect(desk.get_by_role("status")).to_have_text("Claimed: it is yours.")
    desk.get_by_label("Answer by text").fill("Ana here. I will call you at 3.")
    expect(desk.locator("#count")).to_have_text("1 segment")
    desk.get_by_label("I answer from here on").first.check()
    desk.get_by_role("button", name="Send").click()
    expect(desk.get_by_role("status")).to_have_text("Your text is on its way.")
    expect(desk.get_by_text("taken over by June Castell")).to_be_visible()
    phone = new_page()
    phone.goto("/handset")
    phone.get_by_role("button", name="202 555 0161").click()
    expect(phone.locator(".received .body").last).to_contain_text("reads and answers you here", timeout=15_000)
    expect(phone.locator(".received .body").nth(-2)).to_have_text("Ana here. I will call you at 3.\n- June Castell")


def test_everything_works_without_a_script(new_page: NewPage, demo: str) -> None:
    text_in(demo, "+12025550162", "hello")
    text_in(demo, "+12025550162", "i need a person")
    desk = new_page(script=False)
    sign_in(desk)
    open_household(desk, "0162")
    desk.get_by_label("Answer by text").fill("x" * 500)
    desk.get_by_role("button", name="Send").click()
    expect(desk.get_by_role("alert")).to_contain_text("This is long")
    expect(desk.locator("#count")).to_have_text("4 segments")
    desk.get_by_label("Answer by text").fill("Yes, tomorrow.")
    desk.get_by_role("button", name="Send").click()
    expect(desk.get_by_role("status")).to_have_text("Your text is on its way.")


def test_filters_stand_in_the_address_and_hold_when_it_is_opened_again(new_page: NewPage) -> None:
    desk = new_page()
    sign_in(desk)
    desk.get_by_label("Reason").select_option(label="Mold reported")
    desk.get_by_role("button", name="Show").click()
    assert "reason=mould" in desk.url
    headings = desk.locator("li.need h2")
    expect(headings).not_to_have_count(0)
    assert set(headings.all_inner_texts()) == {"Mold reported"}


def test_the_count_while_typing_is_the_servers_count(new_page: NewPage) -> None:
    desk = new_page()
    sign_in(desk)
    desk.locator("li.need h2 a").first.click()
    samples = (
        "a",
        "x" * 160,
        "x" * 161,
        "{" * 80,
        "{" * 81,
        "\u00e1" * 70,
        "\u00e1" * 71,
        "\U0001f4a7" * 36,
        "x" * 460,
    )
    for sample in samples:
        desk.get_by_label("Answer by text").fill(sample)
        count = segments(f"{sample}\n- June Castell").count
        expect(desk.locator("#count")).to_contain_text("1 segment" if count == 1 else f"{count} segments")


def test_typographic_marks_cost_nothing_because_they_are_sent_plain(new_page: NewPage) -> None:
    desk = new_page()
    sign_in(desk)
    desk.locator("li.need h2 a").first.click()
    desk.get_by_label("Answer by text").fill("\u201cWe\u2019ll come\u201d \u2013 soon\u2026")
    expect(desk.locator("#count")).to_have_text("1 segment")


def test_the_list_can_be_worked_by_keyboard_alone(new_page: NewPage) -> None:
    desk = new_page()
    desk.goto("/console/sign-in")
    desk.keyboard.press("Tab")
    expect(desk.get_by_role("link", name="Skip to the content")).to_be_focused()
    desk.get_by_label("Login").focus()
    desk.keyboard.type("county")
    desk.keyboard.press("Tab")
    expect(desk.get_by_label("Password")).to_be_focused()
    desk.keyboard.type("ossery river 1936")
    desk.keyboard.press("Enter")
    desk.wait_for_url("**/console")
    first = desk.locator("li.need h2 a").first
    for _ in range(40):
        desk.keyboard.press("Tab")
        if first.evaluate("link => link === document.activeElement"):
            break
    desk.keyboard.press("Enter")
    expect(desk.get_by_role("heading", name="Conversation")).to_be_visible()
