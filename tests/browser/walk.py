"""Every page there is, and how a person gets to it: for whatever has to hold on all of them, and for the pictures.

The routes are those of the table of who may what, which a test compares with the application's own: a new page is
walked to by its address without anybody thinking of it. ``WAYS`` leads to pages for which an address is not enough,
``STATES`` to what a page looks like when something has been done on it.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import pyotp
from playwright.sync_api import Page, expect

from guide_service.console.policy_sections import BY_KEY
from guide_service.console.roles import Role
from tests.browser.running import sign_in
from tests.console.who_may_what import WHO, rows

Visit = Callable[[Page], None]

NO_PAGES = frozenset(
    {
        "/healthz",
        "/readyz",
        "/handset/numbers",
        "/handset/texts",
        "/log/sheet.pdf",
        "/console/waiting",
        "/console/waiting/stream",
        "/console/finding.csv",
        "/console/county/report.txt",
        "/console/places/{place}/plot",
        "/console/messages/{message}/kept/{number}",
        "/console/households/{household}/stream",
        "/console/households/{household}/talk",
        "/console/households/{household}/log.pdf",
        "/console/notices/{notice}/progress",
        "/console/handbook/pictures/{picture}",
        "/console/texts/{language}/catalogue.po",
        "/console/texts/{language}/marks.toml",
    }
)
"""What is read by programs, kept as a file, or put into a page: no page of its own."""

POLICY_PART = "/console/policy/{policy_part}"
"""One route, and a page of its own for each part."""
STALLED, OF_STALLED = "Drying has stalled", "19 Sawpit Lane"


def refused_sign_in(page: Page) -> None:
    page.goto("/console/sign-in")
    page.get_by_label("Login").fill("nobody")
    page.get_by_label("Password").fill("nothing")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("alert").wait_for()


def new_water(page: Page) -> None:
    sign_in(page)
    page.get_by_text("New water in an area").click()


def settled_list(page: Page) -> None:
    sign_in(page)
    page.goto("/console?state=settled")


def household(page: Page, heading: str = STALLED) -> None:
    """A house whose places are set up and measured."""
    sign_in(page)
    page.locator("li.need h2 a", has_text=heading).first.click()
    expect(page.get_by_role("heading", name="Conversation")).to_be_visible()


def household_with_mould(page: Page) -> None:
    household(page, "Mold reported")
    page.get_by_role("button", name="Show number").click()
    page.get_by_text("+1202555").wait_for()


def household_with_every_tool_open(page: Page) -> None:
    household(page)
    for tool in page.locator("main details summary").all():
        tool.click()
    page.locator("figure img").first.scroll_into_view_if_needed()


def number_to_call(page: Page) -> None:
    sign_in(page)
    page.get_by_role("button", name="Call").first.click()
    page.get_by_role("link", name="Call +1202555").wait_for()


def readings_not_understood(page: Page) -> None:
    household(page)
    page.get_by_text("Readings of a visit").click()
    page.get_by_label("As a household would text them").fill("U1 245 19 17")
    page.get_by_label("The meter was set").select_option("1")
    page.get_by_role("button", name="Add the readings").click()
    page.get_by_role("alert").wait_for()


def routine_mould(page: Page) -> None:
    for body in ("hello", "i see mold"):
        page.request.post("/handset/texts", data={"number": "+12025550172", "body": body})
    sign_in(page)
    page.get_by_role("heading", name="Routine mold reports").wait_for()


def long_answer(page: Page) -> None:
    sign_in(page)
    page.locator("li.need h2 a").first.click()
    page.get_by_label("Answer by text").fill("x" * 500)
    page.get_by_role("button", name="Send").click()
    page.get_by_role("alert").wait_for()


def not_found(page: Page) -> None:
    sign_in(page)
    page.goto("/console/households/1")


def county_with_numbers(page: Page) -> None:
    sign_in(page)
    page.goto("/console/county")
    page.get_by_text("The curve in numbers").click()
    page.locator("svg.curve").scroll_into_view_if_needed()


def found_by_word(page: Page) -> None:
    sign_in(page)
    page.goto("/console/finding")
    page.get_by_label("Address, name, wall, place or phone number").fill("weir")
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.locator("tbody tr")).not_to_have_count(0)


def nothing_found(page: Page) -> None:
    sign_in(page)
    page.goto("/console/finding?q=nowhere")
    page.get_by_text("Nothing fits.").wait_for()


def practice_phone(page: Page) -> None:
    page.goto("/handset")
    page.get_by_role("button", name="202 555 0126").click()
    page.locator(".received").first.wait_for()
    page.locator("#numbers button[aria-pressed=true]", has_text="202 555 0126").wait_for()


def write_notice(page: Page, title: str = "Office open on Saturday", *, area: str = "Upper Larkwater") -> None:
    """A notice as a draft, by whoever is signed in."""
    page.goto("/console/new-notice")
    page.get_by_label("Title, for colleagues only").fill(title)
    if area:
        page.get_by_label(area).check()
    page.get_by_label("Own text: English").fill("The office is open on Saturday from 9 to 12.")
    page.get_by_role("button", name="Save and look at it").click()
    expect(page.get_by_role("status")).to_have_text("Saved. Nothing has been sent.")


def notice_without_recipient_text(page: Page) -> None:
    sign_in(page)
    page.goto("/console/new-notice")
    page.get_by_label("Title, for colleagues only").fill("Nothing to say")
    page.get_by_role("button", name="Save and look at it").click()
    page.get_by_role("alert").wait_for()


def log_with_pin(page: Page) -> tuple[str, str]:
    """The page of a log on which a number and a PIN have just been made; both."""
    household(page)
    page.get_by_role("link", name="Print the drying log").click()
    page.get_by_label("For whom").fill("inspector of the county")
    page.get_by_role("button", name="PIN").click()
    _, number, pin = page.locator(".pin dd").all_inner_texts()
    return number, pin


def log_outside(page: Page) -> None:
    number, pin = log_with_pin(page)
    page.context.clear_cookies()
    page.goto("/log")
    page.get_by_label("Log number").fill(number)
    page.get_by_label("PIN").fill(pin)
    page.get_by_role("button", name="Show the log").click()
    page.wait_for_url("**/log/sheet")


def wrong_pin(page: Page) -> None:
    page.goto("/log")
    page.get_by_label("Log number").fill("000000")
    page.get_by_label("PIN").fill("000000")
    page.get_by_role("button", name="Show the log").click()
    page.get_by_role("alert").wait_for()


def begin_second_factor(page: Page) -> str:
    """The page with the square code; the key that it holds."""
    page.goto("/console/account")
    page.get_by_role("link", name="Set it up").click()
    start = page.get_by_role("button", name="Begin", exact=True)
    if start.count():
        start.click()
    expect(page.get_by_role("img", name="Square code")).to_be_visible()
    return "".join(page.locator(".key span").all_text_contents())


def second_factor_begun(page: Page) -> None:
    sign_in(page, "walker")
    begin_second_factor(page)


_CODES: dict[str, list[str]] = {}
"""Recovery codes of Ben Holt that are still good, by the demo that he is of."""


def recovery_codes(page: Page) -> None:
    """Ben Holt sets up his second factor, or makes new recovery codes."""
    sign_in(page, "holt")
    demo = page.url.split("/console")[0]
    if demo in _CODES:
        page.get_by_label("Six digits, or a recovery code").fill(_CODES[demo].pop())
        page.get_by_role("button", name="Sign in").click()
        page.get_by_role("heading", name="Waiting for a person").wait_for()
        page.goto("/console/account/second-factor")
        page.get_by_label("Code of the app", exact=True).fill(_CODES[demo].pop())
        page.get_by_role("button", name="Make new ones").click()
    else:
        key = begin_second_factor(page)
        page.get_by_label("The six digits").fill(pyotp.TOTP(key).now())
        page.get_by_role("button", name="Set it up").click()
    expect(page.locator(".codes li")).to_have_count(10)
    _CODES[demo] = page.locator(".codes li").all_text_contents()


def sign_in_code(page: Page) -> None:
    recovery_codes(page)
    page.get_by_role("button", name="Sign out", exact=True).click()
    sign_in(page, "holt")
    expect(page.get_by_role("heading", name="Code of your authenticator app")).to_be_visible()


def assign(page: Page) -> None:
    """Sends the volunteer to the first house of the list whose places are set up."""
    sign_in(page, "rivera")
    page.locator("li.need h2 a", has_text=STALLED).first.click()
    page.get_by_role("link", name="Measuring round").click()
    page.locator("select[name=volunteer]").select_option(label="Lee Ward")
    page.get_by_role("button", name="Assign", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("Assigned")


def own_round(page: Page) -> None:
    assign(page)
    page.get_by_role("button", name="Sign out", exact=True).click()
    sign_in(page, "walker")
    expect(page.get_by_role("heading", name="Your round")).to_be_visible()


def house_of_round(page: Page) -> None:
    own_round(page)
    page.locator(".houses a", has_text=OF_STALLED).click()


def doubtful_reading_of_round(page: Page) -> None:
    house_of_round(page)
    fields = page.locator(".place input:not([type=checkbox])")
    fields.nth(0).fill("17")
    fields.nth(1).fill("185")
    page.get_by_label("The meter was set").select_option(label="on wood, with pins")
    page.get_by_role("button", name="Store the readings").click()
    expect(page.get_by_role("status")).to_contain_text("1 reading is stored.")


def _last_part(page: Page) -> str:
    return page.url.split("?")[0].rstrip("/").split("/")[-1]


def _a_household(page: Page) -> str:
    household(page)
    return _last_part(page)


def _a_notice(page: Page) -> str:
    page.goto("/console/notices")
    written = page.locator(".notices h2 a", has_text="Office open on Saturday")
    if not written.count():
        write_notice(page)
        return _last_part(page)
    return (written.first.get_attribute("href") or "").split("/")[-1]


def recall_preview(page: Page) -> None:
    """Whom it would concern that the meter of 15 Orchard Road reads wrong; nothing is changed yet."""
    sign_in(page)
    page.goto("/console/records/new-recall")
    page.get_by_label("Which meter").fill("M32")
    page.get_by_label("From", exact=True).fill("2026-01-01")
    page.get_by_label("Why: what was found").fill("Two percent low on the check block")
    page.get_by_role("button", name="See whom it concerns").click()
    page.get_by_role("heading", name="What happens when you confirm").wait_for()


def _a_recall(page: Page) -> str:
    page.goto("/console/records")
    made = page.get_by_role("link", name="Meter M32")
    if not made.count():
        recall_preview(page)
        page.get_by_role("button", name="Recall: tell").click()
        return _last_part(page)
    return (made.first.get_attribute("href") or "").split("/")[-1]


def deletion_request(page: Page) -> None:
    """Of a household that asked a person to be deleted: an agent has raised it."""
    home = _a_household(page)
    page.locator("summary", has_text="Raise something for a person").click()
    page.get_by_label("Reason").select_option(label="Asks to be deleted")
    page.get_by_role("button", name="Raise", exact=True).click()
    page.goto(f"/console/records/deletions/{home}")
    expect(page.get_by_role("heading", name="A request to delete")).to_be_visible()


ID_OF: dict[str, Callable[[Page], str]] = {
    "household": _a_household,
    "notice": _a_notice,
    "recall": _a_recall,
    "policy_version": lambda _: "1",
    "language": lambda _: "ar",
}
"""How a signed-in coordinator finds an id for an address; one that stands in the address of a new page goes in here."""


def one_text(page: Page) -> None:
    sign_in(page, "words")
    page.goto("/console/texts/ar/text?id=verdict.wet")


def text_refused(page: Page) -> None:
    sign_in(page, "words")
    page.goto("/console/texts/es/text?id=danger.gas&safety=1")
    page.get_by_label("Translation").fill("Salga ya.")
    page.get_by_role("button", name="Save as a draft").click()
    page.get_by_role("alert").wait_for()


WAYS: dict[str, Visit] = {
    "/console/texts/{language}/text": one_text,
    "/log/sheet": log_outside,
    "/console/sign-in/code": sign_in_code,
    "/console/rounds/{assigned}": house_of_round,
    "/console/households/{household}": household,
    "/console/records/deletions/{household}": deletion_request,
}

STATES: tuple[Visit, ...] = (
    text_refused,
    refused_sign_in,
    new_water,
    settled_list,
    household_with_mould,
    household_with_every_tool_open,
    number_to_call,
    readings_not_understood,
    routine_mould,
    long_answer,
    not_found,
    county_with_numbers,
    found_by_word,
    nothing_found,
    notice_without_recipient_text,
    recall_preview,
    log_with_pin,
    wrong_pin,
    second_factor_begun,
    recovery_codes,
    assign,
    own_round,
    doubtful_reading_of_round,
    practice_phone,
)


def at_address(path: str, who: str) -> Visit:
    """Opens the page as somebody who may see it."""

    def visit(page: Page) -> None:
        if who != "anybody":
            sign_in(page, "county" if Role.COORDINATOR in WHO[who] else "walker")
        ids = {name: ID_OF[name](page) for name in re.findall(r"{(\w+)}", path)}
        page.goto(path.format(**ids))
        if path == "/handset":
            page.locator("#numbers button").first.wait_for()  # the page asks for what it shows

    return visit


def pages() -> dict[str, Visit]:
    """Route or name of a state to the way there."""
    gets = {path: who for (method, path), who in rows().items() if method == "GET"}
    table = {path: who for path, who in gets.items() if path not in NO_PAGES and not path.startswith("/carrier/")}
    plain = {path: WAYS.get(path) or at_address(path, who) for path, who in table.items()}
    del plain[POLICY_PART]
    parts = {f"/console/policy/{key}": at_address(f"/console/policy/{key}", table[POLICY_PART]) for key in BY_KEY}
    return plain | parts | {visit.__name__: visit for visit in STATES}
