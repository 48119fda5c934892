"""What looks at many households: finding and its file, the county in numbers, the report, notices, the policy."""

from __future__ import annotations

import csv

import pytest
from playwright.sync_api import Page, expect

from tests.browser import walk
from tests.browser.conftest import NewPage
from tests.browser.running import Demo, sign_in, to_office_hours

pytestmark = pytest.mark.browser
SOON = 20_000


@pytest.mark.usefixtures("phones_at_work")
def test_a_household_is_found_by_word_and_by_number_and_a_list_becomes_a_file(new_page: NewPage) -> None:
    desk = new_page()
    sign_in(desk)
    desk.goto("/console/finding")
    field = desk.get_by_label("Address, name, wall, place or phone number")
    field.fill("weir street")
    desk.keyboard.press("Enter")
    expect(desk.locator("tbody th")).to_have_count(1)
    expect(desk.locator("tbody")).to_contain_text("60 Weir Street")
    desk.get_by_label("Address, name").fill("(202) 555-0126")
    desk.keyboard.press("Enter")
    expect(desk.get_by_role("heading", name="77 Orchard Road")).to_be_visible()
    assert "0126" not in desk.url
    desk.goto("/console/finding")
    desk.get_by_label("stalled").check()
    desk.get_by_role("button", name="Show", exact=True).click()
    assert "stalled=1" in desk.url
    shown = [cell.split("\n")[0] for cell in desk.locator("tbody th a").all_inner_texts()]
    with desk.expect_download() as kept:
        desk.get_by_role("link", name="This list as a CSV file").click()
    with kept.value.path().open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["address"] for row in rows] == shown
    assert {row["stalled"] for row in rows} == {"yes"}


@pytest.mark.usefixtures("phones_at_work")
def test_the_county_in_numbers_leads_to_its_lists_and_to_a_report_without_houses(new_page: NewPage) -> None:
    desk = new_page()
    sign_in(desk)
    desk.get_by_role("link", name="County", exact=True).click()
    expect(desk.locator("svg.curve")).to_be_visible()
    stalled = desk.locator(".tally > div", has_text="Stalled")
    counted = int(stalled.locator(".figure").inner_text())
    assert counted > 0
    stalled.get_by_role("link").click()
    expect(desk.locator("tbody tr")).to_have_count(counted)
    desk.goto("/console/county")
    desk.get_by_role("link", name="Situation report").click()
    report = desk.locator("pre.report").inner_text()
    assert "KNOWN GAPS" in report
    assert "HOW COUNTED" in report
    assert not [each for each in ("Weir Street", "Sawpit", "0126") if each in report]
    agent = new_page()
    sign_in(agent, "rivera")
    agent.goto("/console/county")
    expect(agent.get_by_role("link", name="Situation report")).to_have_count(0)
    assert agent.goto("/console/county/report").status == 404  # type: ignore[union-attr]


def progress(page: Page, name: str) -> int:
    figure = page.locator("#progress dl div", has=page.get_by_text(name, exact=True)).locator(".figure")
    return int(figure.inner_text()) if figure.count() else 0


def test_a_notice_needs_a_second_person_goes_out_and_is_stopped_midway(own_page: NewPage, own_demo: Demo) -> None:
    to_office_hours(own_demo.address)
    writer, second = own_page(), own_page()
    sign_in(writer, "rivera")
    sign_in(second, "county")
    writer.goto("/console/new-notice")
    writer.get_by_label("Title, for colleagues only").fill("Drop-in evening")
    writer.get_by_label("Own text: English").fill("Questions? We are at the school on Mill Lane, Tuesday 5 to 8.")
    writer.get_by_role("button", name="Save and look at it").click()
    expect(writer.get_by_text("somebody who did not write it must approve it")).to_be_visible()
    expect(writer.get_by_role("button", name="Approve")).to_have_count(0)
    expect(writer.get_by_role("button", name="Start")).to_have_count(0)
    address = writer.url.split("?")[0]
    phones = int(writer.locator(".preview .figure").first.inner_text())
    assert phones > 5
    second.goto(address)
    second.get_by_role("button", name="Approve these words for these phones").click()
    expect(second.get_by_role("status")).to_contain_text("Approved")
    writer.goto(address)
    writer.get_by_role("button", name=f"Start: text {phones} phones").click()
    expect(writer.get_by_role("status").first).to_contain_text("Started.")
    writer.wait_for_function(
        "() => Number(/(\\d+) of/.exec(document.querySelector('#progress p[role=status]').textContent)[1]) > 0",
        timeout=30_000,
    )
    writer.get_by_role("button", name="Stop: send no more").click()
    expect(writer.get_by_role("status").first).to_contain_text("what was still in line is not sent")
    writer.reload()
    gone = progress(writer, "sent, no receipt yet") + progress(writer, "delivered")
    assert 0 < gone < phones
    assert gone + progress(writer, "not sent: stopped") == phones
    expect(writer.get_by_text("Approved by June Castell")).to_be_visible()


def test_a_notice_that_is_changed_after_its_approval_needs_another(own_page: NewPage) -> None:
    writer, second = own_page(), own_page()
    sign_in(writer, "rivera")
    sign_in(second, "county")
    walk.write_notice(writer, "Meters", area="Millrace")
    address = writer.url.split("?")[0]
    second.goto(address)
    second.get_by_role("button", name="Approve these words").click()
    expect(second.get_by_role("status")).to_contain_text("Approved")
    writer.goto(f"{address}/change")
    writer.get_by_label("Own text: English").fill("Meters are lent from Monday.")
    writer.get_by_role("button", name="Save and look at it").click()
    expect(writer.get_by_text("somebody who did not write it must approve it")).to_be_visible()
    expect(writer.get_by_role("button", name="Start")).to_have_count(0)
    writer.get_by_role("button", name="Drop it").click()
    expect(writer.get_by_role("status")).to_have_text("Dropped.")


def test_a_policy_is_changed_with_a_reason_and_keeps_its_versions(own_page: NewPage) -> None:
    desk = own_page()
    sign_in(desk)
    desk.get_by_role("link", name="Policy").click()
    expect(desk.get_by_role("heading", name="Policy, version 1")).to_be_visible()
    desk.goto("/console/policy/limits")
    value = desk.locator("input[name=reading_max_age_days]")
    assert value.input_value() == "14"
    value.fill("10")
    desk.get_by_role("button", name="Make this the new version").click()
    expect(desk.locator("#wrong-reason")).to_be_visible()
    expect(desk.locator("input[name=reading_max_age_days]")).to_have_value("10")
    desk.get_by_label("Why it changes").fill("A wet November: readings grow old sooner.")
    desk.get_by_role("button", name="Make this the new version").click()
    expect(desk.get_by_role("heading", name="Policy, version 2")).to_be_visible()
    expect(desk.locator("section[aria-labelledby=versions]")).to_contain_text("A wet November")
    agent = own_page()
    sign_in(agent, "rivera")
    agent.goto("/console/policy")
    expect(agent.locator("#limits")).to_contain_text("10")
    assert agent.goto("/console/policy/limits").status == 404  # type: ignore[union-attr]


def cut_off(page: Page, within: str) -> list[str]:
    """What of this part of the page is seen only by moving something sideways."""
    return page.locator(within).evaluate_all(
        """parts => parts.flatMap((part) => [part, ...part.querySelectorAll("*")])
            .filter((each) => each.checkVisibility() && each.getBoundingClientRect().right > innerWidth)
            .map((each) => `${each.tagName} ${each.textContent.trim().slice(0, 40)}`)"""
    )


def test_the_report_and_the_drying_plots_are_seen_whole_on_a_phone(new_page: NewPage) -> None:
    phone = new_page()
    phone.set_viewport_size({"width": 390, "height": 844})
    sign_in(phone)
    phone.goto("/console/county/report")
    expect(phone.locator("pre.report")).to_be_hidden()
    expect(phone.get_by_role("row", name="said STOP")).to_be_visible()
    assert cut_off(phone, "main") == []
    phone.set_viewport_size({"width": 1280, "height": 900})
    expect(phone.locator("pre.report")).to_be_visible()
    expect(phone.get_by_role("row", name="said STOP")).to_be_hidden()
    phone.set_viewport_size({"width": 390, "height": 844})
    walk.household_with_every_tool_open(phone)
    assert phone.locator("figure img").count() > 0
    assert cut_off(phone, "figure") == []
