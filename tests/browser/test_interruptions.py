"""An agent's work when the session ends, when a colleague acts at the same instant, when the server is away."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

import pytest
from playwright.sync_api import Error, Page, expect

from tests.browser.conftest import NewPage
from tests.browser.running import Demo, sign_in, text_in
from tests.browser.test_desk import open_household

pytestmark = pytest.mark.browser
RECOVERED = 75_000
"""Milliseconds: a stream that was cut off tries again, and the page asks once a minute anyway."""


@pytest.fixture
def waits(own_demo: Demo) -> Callable[[str], None]:
    """A household of this number that waits for a person."""

    def wait(digits: str) -> None:
        text_in(own_demo.address, f"+1202555{digits}", "hello")
        text_in(own_demo.address, f"+1202555{digits}", "can a person call me please")

    return wait


def end_sessions(demo: Demo) -> None:
    """As when twelve hours have passed: the sessions are there, and over."""
    with sqlite3.connect(demo.database, timeout=20) as database:
        ended = database.execute("update agent_session set expires_at = datetime('now', '-1 minute')").rowcount
    assert ended > 0


def half_written(page: Page, digits: str, words: str) -> None:
    sign_in(page)
    open_household(page, digits)
    page.get_by_label("Answer by text").fill(words)


def test_an_answer_that_was_being_written_survives_the_end_of_the_session(
    own_page: NewPage, own_demo: Demo, waits: Callable[[str], None]
) -> None:
    waits("0141")
    desk = own_page()
    half_written(desk, "0141", "The office lends meters from eight")
    end_sessions(own_demo)
    desk.get_by_role("button", name="Send", exact=True).click()
    desk.wait_for_url("**/console/sign-in")
    sign_in(desk)
    open_household(desk, "0141")
    expect(desk.get_by_label("Answer by text")).to_have_value("The office lends meters from eight")
    expect(desk.locator("#count")).to_have_text("1 segment")
    desk.get_by_role("button", name="Send", exact=True).click()
    expect(desk.get_by_role("status")).to_have_text("Your text is on its way.")
    expect(desk.get_by_label("Answer by text")).to_have_value("")
    desk.reload()
    expect(desk.get_by_label("Answer by text")).to_have_value("")


def test_what_was_being_written_is_for_nobody_else_at_that_tab(own_page: NewPage, waits: Callable[[str], None]) -> None:
    waits("0142")
    desk = own_page()
    half_written(desk, "0142", "For June's eyes")
    desk.get_by_role("button", name="Sign out").click()
    assert "June" not in desk.evaluate("JSON.stringify(sessionStorage)")
    half_written(desk, "0142", "For June's eyes")
    desk.context.clear_cookies()
    sign_in(desk, "rivera")
    open_household(desk, "0142")
    expect(desk.get_by_label("Answer by text")).to_have_value("")
    assert "June" not in desk.evaluate("JSON.stringify(sessionStorage)")


def test_of_two_who_claim_at_one_instant_one_has_it_and_both_are_told(
    own_page: NewPage, waits: Callable[[str], None]
) -> None:
    waits("0143")
    desks = own_page(), own_page()
    for desk, login in zip(desks, ("county", "rivera"), strict=True):
        sign_in(desk, login)
        expect(desk.locator("li.need", has_text="0143").get_by_role("button", name="Claim")).to_be_visible()
    for desk in desks:
        form = desk.locator("li.need", has_text="0143").locator("form[action$=claim]")
        form.evaluate("form => { setTimeout(() => form.submit()) }")  # both are on their way before either is answered
    said = []
    for desk in desks:
        desk.get_by_role("status").wait_for()
        said.append(desk.get_by_role("status").inner_text())
    assert sorted(said) == ["Claimed: it is yours.", "Somebody else was first: it is no longer free."]
    holder = "June Castell" if said[0].startswith("Claimed") else "Ana Rivera"
    for desk in desks:
        desk.goto("/console")
        expect(desk.locator("li.need", has_text="0143")).to_contain_text(f"claimed by {holder}")


def test_a_restart_loses_no_words_and_an_open_list_comes_back_by_itself(
    own_page: NewPage, own_demo: Demo, waits: Callable[[str], None]
) -> None:
    waits("0144")
    watcher, writer = own_page(), own_page()
    sign_in(watcher)
    watcher.evaluate("window.stillTheSamePage = true")
    half_written(writer, "0144", "Ana comes at three")
    own_demo.stop()
    with pytest.raises(Error, match="ERR_CONNECTION_REFUSED"):
        writer.goto("/console")
    own_demo.start()
    writer.goto("/console")
    open_household(writer, "0144")
    expect(writer.get_by_label("Answer by text")).to_have_value("Ana comes at three")
    writer.get_by_role("button", name="Send", exact=True).click()
    expect(writer.get_by_role("status")).to_have_text("Your text is on its way.")
    waits("0145")
    expect(watcher.locator("li.need", has_text="0145")).to_be_visible(timeout=RECOVERED)
    assert watcher.evaluate("window.stillTheSamePage") is True


def test_ticks_days_and_choices_of_a_form_survive_the_end_of_the_session_and_go_once_it_is_done(
    own_page: NewPage, own_demo: Demo
) -> None:
    desk = own_page()
    sign_in(desk)
    desk.goto("/console/new-notice")
    desk.get_by_label("Title, for colleagues only").fill("Drop-in evening")
    desk.get_by_label("Fenn Landing").check()
    desk.get_by_label("Own text: English").fill("We are at the school on Tuesday.")
    end_sessions(own_demo)
    desk.get_by_role("button", name="Save and look at it").click()
    desk.wait_for_url("**/console/sign-in")
    sign_in(desk)
    desk.goto("/console/new-notice")
    expect(desk.get_by_label("Title, for colleagues only")).to_have_value("Drop-in evening")
    expect(desk.get_by_label("Fenn Landing")).to_be_checked()
    expect(desk.get_by_label("Millrace")).not_to_be_checked()
    expect(desk.get_by_label("Own text: English")).to_have_value("We are at the school on Tuesday.")
    desk.get_by_role("button", name="Save and look at it").click()
    expect(desk.get_by_role("status").first).to_have_text("Saved. Nothing has been sent.")
    desk.goto("/console/new-notice")
    expect(desk.get_by_label("Title, for colleagues only")).to_have_value("")
    expect(desk.get_by_label("Fenn Landing")).not_to_be_checked()


def test_a_form_that_was_refused_stands_as_it_was_when_one_goes_back_to_it(
    own_page: NewPage, waits: Callable[[str], None]
) -> None:
    waits("0146")
    desk = own_page()
    sign_in(desk)
    open_household(desk, "0146")
    desk.get_by_text("Add a second phone").click()
    desk.get_by_label("Number", exact=True).fill("555-0147")
    desk.get_by_label("Name, if told").fill("Ida")
    desk.get_by_label("Its owner told me that we may text it").check()
    form = desk.locator("form[action$='/phones']")
    form.locator("input[name=csrf]").evaluate("field => { field.value = 'of a page loaded long ago' }")
    desk.get_by_role("button", name="Add the phone").click()
    expect(desk.get_by_role("heading", level=1)).to_have_text("This form is too old")
    expect(desk.get_by_role("navigation", name="Pages")).to_be_visible()
    desk.get_by_role("link", name="Back to the household").click()
    expect(desk.get_by_label("Name, if told")).to_have_value("Ida")
    expect(desk.get_by_label("Name, if told")).to_be_visible()
    expect(desk.get_by_label("Number", exact=True)).to_have_value("555-0147")
    desk.reload()
    expect(desk.get_by_label("Name, if told")).to_have_value("")
    assert "0147" not in desk.evaluate("JSON.stringify(sessionStorage)")
