"""Work on a house: readings of a visit, corrections, the next check, a log for somebody outside, one begun twice."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser import walk
from tests.browser.conftest import NewPage
from tests.browser.running import sign_in, text_in, to_office_hours

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("phones_at_work")]
MEASURED = "77 Orchard Road"
"""A house whose places have been measured; its phone ends in 0126."""


def open_house(page: Page, address: str) -> None:
    page.goto("/console/finding")
    page.get_by_label("Address, name, wall, place or phone number").fill(address)
    page.get_by_role("button", name="Find", exact=True).click()
    page.get_by_role("link", name=address).first.click()
    expect(page.get_by_role("heading", name=address)).to_be_visible()


def phone_of(page: Page, number: str) -> None:
    page.goto("/handset")
    page.get_by_role("button", name=number).click()


def test_readings_of_a_visit_count_at_once_and_the_phone_is_told(new_page: NewPage, demo: str) -> None:
    to_office_hours(demo)
    desk, phone = new_page(), new_page(390)
    sign_in(desk)
    open_house(desk, MEASURED)
    desk.get_by_text("Readings of a visit").click()
    desk.get_by_label("As a household would text them").fill("P1 31 25 22")
    desk.get_by_label("The meter was set").select_option("1")
    desk.get_by_role("button", name="Add the readings").click()
    expect(desk.get_by_role("status")).to_contain_text("Added: they count as confirmed")
    row = desk.locator("section[aria-labelledby=places] tbody tr", has_text="P1")
    expect(row).to_contain_text("wet")
    expect(row).to_contain_text("31 25 22")
    phone_of(phone, "202 555 0126")
    expect(phone.locator(".received .body").last).to_contain_text(re.compile("P1.*WET|WET.*P1", re.S), timeout=20_000)


def test_a_corrected_reading_stays_in_the_file_and_the_new_one_decides(new_page: NewPage) -> None:
    desk = new_page()
    sign_in(desk)
    open_house(desk, "12 Mill Lane")
    desk.get_by_text("Put a reading right").click()
    newest = desk.locator("select[name=reading] option").nth(1)
    was = newest.inner_text()
    desk.locator("select[name=reading]").select_option(index=1)
    desk.get_by_label("Should be").fill("38")
    desk.get_by_role("button", name="Put it right").click()
    expect(desk.get_by_role("status")).to_contain_text("The old reading is kept")
    desk.locator("section[aria-labelledby=readings] summary").click()
    rows = desk.locator("section[aria-labelledby=readings] tbody tr")
    expect(rows.filter(has_text="replaced")).to_have_count(1)
    old = was.split(": ")[1].split(" ")[0]
    expect(rows.filter(has_text="replaced").locator("td.num")).to_have_text(old)
    new = rows.filter(has=desk.locator("td.num", has_text=re.compile("^38$"))).filter(has_text="June Castell")
    expect(new).to_contain_text("counts")


def test_the_next_check_is_moved_and_the_stage_is_set(new_page: NewPage) -> None:
    desk = new_page()
    sign_in(desk)
    open_house(desk, "12 Mill Lane")
    desk.locator("summary", has_text="Next check").click()
    field = desk.locator("form[action$=next-check] input[name=day]")
    least = field.get_attribute("min") or ""
    field.fill(least)
    desk.get_by_role("button", name="Set the check").click()
    expect(desk.get_by_role("status")).to_contain_text("The next check is set")
    expect(desk.locator("form[action$=next-check] input[name=day]")).to_have_value(least)
    desk.locator("summary", has_text="Stage").click()
    desk.locator("select[name=stage]").select_option(label="drying")
    desk.get_by_role("button", name="Set the stage").click()
    expect(desk.locator("dl.summary")).to_contain_text("drying")


def test_a_log_is_opened_outside_by_number_and_pin_until_it_is_ended(new_page: NewPage) -> None:
    desk, outside = new_page(), new_page(390)
    number, pin = walk.log_with_pin(desk)
    log = desk.url.removesuffix("/pin")

    def try_pin(typed: str) -> None:
        outside.goto("/log")
        outside.get_by_label("Log number").fill(number)
        outside.get_by_label("PIN").fill(typed)
        outside.get_by_role("button", name="Show the log").click()

    try_pin("00000000")
    expect(outside.get_by_role("alert")).to_contain_text("do not open a log")
    try_pin(pin)
    expect(outside.get_by_role("heading", name=f"Drying log {number}")).to_be_visible()
    expect(outside.get_by_text("This log is not a certificate.")).to_be_visible()
    assert number.replace("-", "") not in outside.url.replace("-", "")
    assert outside.locator("nav a").count() == 0
    with outside.expect_download() as kept:
        outside.get_by_role("link", name="A4").evaluate("link => { link.download = 'log.pdf'; link.click(); }")
    assert kept.value.path().read_bytes().startswith(b"%PDF-")
    assert outside.goto("/console/households/1").url.endswith("/console/sign-in")  # type: ignore[union-attr]
    desk.goto(log)
    desk.get_by_role("button", name="End it now").click()
    expect(desk.get_by_role("status")).to_contain_text("opens nothing any more")
    assert outside.goto("/log/sheet").url.endswith("/log")  # type: ignore[union-attr]
    try_pin(pin)
    expect(outside.get_by_role("alert")).to_be_visible()


def test_a_house_that_was_begun_twice_becomes_one(new_page: NewPage, demo: str) -> None:
    for digits in ("0151", "0152"):
        text_in(demo, f"+1202555{digits}", "hello")
        text_in(demo, f"+1202555{digits}", "can a person call me please")
    desk = new_page()
    sign_in(desk)
    desk.locator("li.need", has_text="0151").get_by_role("link").first.click()
    first = desk.url
    desk.goto("/console")
    desk.locator("li.need", has_text="0152").get_by_role("link").first.click()
    second = desk.url
    desk.goto(first)
    desk.get_by_text("The same house twice").click()
    desk.get_by_label("Number of a phone of the other file").fill("202 555 0152")
    desk.get_by_role("button", name="Look for it").click()
    desk.get_by_label("It is the same house").check()
    desk.get_by_role("button", name="Merge").click()
    expect(desk.get_by_role("status")).to_have_text("Merged: everything of both stands here.")
    people = desk.locator(".people")
    expect(people).to_contain_text("0151")
    expect(people).to_contain_text("0152")
    desk.goto(second)
    assert desk.url.split("?")[0] == first.split("?")[0]
