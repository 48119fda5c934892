"""Pages that stay open: what is new appears by itself, is said politely, and two agents never hold one thing."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import NewPage
from tests.browser.running import sign_in, text_in
from tests.browser.test_desk import open_household

pytestmark = pytest.mark.browser
SOON = 15_000
"""Milliseconds in which a page has to hear of it: it looks every two seconds."""


def waiting_in_title(page: Page) -> int:
    title = page.title()
    return int(title[1 : title.index(")")]) if title.startswith("(") else 0


def test_a_cry_for_help_appears_without_loading_is_counted_and_said(new_page: NewPage, demo: str) -> None:
    desk = new_page()
    sign_in(desk)
    before = waiting_in_title(desk)
    desk.evaluate("window.stillTheSamePage = true")
    expect(desk.locator("#told")).to_be_empty()
    text_in(demo, "+12025550181", "hello")
    text_in(demo, "+12025550181", "there is a gas smell in the kitchen")
    row = desk.locator("li.need", has_text="gas smell")
    expect(row).to_be_visible(timeout=SOON)
    expect(row).to_contain_text("Words of danger")
    expect(desk.locator("#told")).to_contain_text("Newest, danger: Words of danger")
    assert waiting_in_title(desk) == before + 1
    assert desk.evaluate("window.stillTheSamePage") is True
    assert desk.locator("li.need").first.inner_text().startswith("danger")


def test_what_a_colleague_claims_is_taken_on_the_other_screen_and_cannot_be_claimed(
    new_page: NewPage, demo: str
) -> None:
    text_in(demo, "+12025550182", "hello")
    text_in(demo, "+12025550182", "can someone call me please")
    first, second, stale = new_page(), new_page(), new_page(script=False)
    sign_in(first)
    sign_in(second, "rivera")
    sign_in(stale, "rivera")
    mine = first.locator("li.need", has_text="0182")
    theirs = second.locator("li.need", has_text="0182")
    expect(theirs.get_by_role("button", name="Claim")).to_be_visible()
    mine.get_by_role("button", name="Claim").click()
    expect(first.get_by_role("status")).to_have_text("Claimed: it is yours.")
    expect(theirs).to_contain_text("claimed by June Castell", timeout=SOON)
    expect(theirs.get_by_role("button", name="Claim")).to_have_count(0)
    stale.locator("li.need", has_text="0182").get_by_role("button", name="Claim").click()
    expect(stale.get_by_role("status")).to_contain_text("Somebody else was first")


def test_the_keyboard_stays_where_it_was_when_the_list_comes_anew(new_page: NewPage, demo: str) -> None:
    text_in(demo, "+12025550183", "hello")
    text_in(demo, "+12025550183", "can a person call me")
    desk = new_page()
    sign_in(desk)
    link = desk.locator("li.need", has_text="0183").get_by_role("link").first
    link.focus()
    focused = desk.evaluate("document.activeElement.id")
    text_in(demo, "+12025550184", "hello")
    text_in(demo, "+12025550184", "i need to talk to a person")
    expect(desk.locator("li.need", has_text="0184")).to_be_visible(timeout=SOON)
    assert desk.evaluate("document.activeElement.id") == focused


def test_a_form_that_is_being_filled_in_is_left_alone(new_page: NewPage, demo: str) -> None:
    text_in(demo, "+12025550185", "hello")
    text_in(demo, "+12025550185", "i see mold")
    desk = new_page()
    sign_in(desk)
    desk.get_by_label("Why they are lifted").fill("cleaned up")
    text_in(demo, "+12025550186", "hello")
    text_in(demo, "+12025550186", "please call me, a person")
    expect(desk.get_by_text("The list has changed: load it again")).to_be_visible(timeout=SOON)
    expect(desk.get_by_label("Why they are lifted")).to_have_value("cleaned up")
    expect(desk.locator("li.need", has_text="0186")).to_have_count(0)


def test_a_conversation_goes_on_while_an_answer_is_being_written(new_page: NewPage, demo: str) -> None:
    text_in(demo, "+12025550187", "hello")
    text_in(demo, "+12025550187", "i want a person")
    desk = new_page()
    sign_in(desk)
    open_household(desk, "0187")
    desk.get_by_label("Answer by text").fill("Half an ans")
    text_in(demo, "+12025550187", "are you there")
    expect(desk.locator("#talk")).to_contain_text("are you there", timeout=SOON)
    expect(desk.get_by_label("Answer by text")).to_have_value("Half an ans")
    expect(desk.locator("#told")).to_have_text("A new text has come.")


def test_a_page_whose_session_has_ended_goes_to_sign_in(new_page: NewPage) -> None:
    desk = new_page()
    sign_in(desk)
    other = desk.context.new_page()
    other.goto("/console")
    other.get_by_role("button", name="Sign out").click()
    desk.wait_for_url("**/console/sign-in", timeout=30_000)


def test_nothing_of_a_live_page_breaks_its_content_policy(new_page: NewPage, demo: str) -> None:
    desk = new_page()
    said: list[str] = []
    desk.on("console", lambda message: said.append(message.text))
    sign_in(desk)
    text_in(demo, "+12025550188", "hello")
    text_in(demo, "+12025550188", "can someone call me")
    expect(desk.locator("li.need", has_text="0188")).to_be_visible(timeout=SOON)
    assert [each for each in said if "Content Security Policy" in each or "Content-Security" in each] == []


def test_an_agent_answers_in_a_language_of_the_household_and_puts_a_reading_right(new_page: NewPage, demo: str) -> None:
    desk = new_page()
    sign_in(desk)
    desk.locator("li.need h2 a", has_text="Drying has stalled").first.click()
    desk.get_by_text("Ready-made sentences").click()
    desk.get_by_label("I will call you today.").check()
    desk.get_by_role("button", name="Send the sentence").click()
    expect(desk.get_by_text("Your text is on its way.")).to_be_visible()
    desk.get_by_text("Put a reading right").click()
    desk.locator("select[name=reading]").select_option(index=1)
    desk.get_by_label("Should be").fill("26")
    desk.get_by_role("button", name="Put it right").click()
    expect(desk.get_by_text("Corrected. The old reading is kept")).to_be_visible()
    expect(desk.locator("#talk")).to_contain_text("We read a number wrong.")
