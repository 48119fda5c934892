"""Errors as pages: in the frame of the others, in plain words, with a way back and a number for a report."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient
from sqlalchemy.exc import OperationalError

from guide_service.console import access, many_routes
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import one_household

Seat = Callable[..., Desk]

NUMBER = re.compile(r"name this number: (?:<bdi>)?([2-9A-Z]{3}-[2-9A-Z]{3})")


def number_on(page: str) -> str:
    found = NUMBER.search(page)
    assert found, page
    return found[1]


def ours(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [each.getMessage() for each in caplog.records if each.name.startswith("guide_service")]


def test_a_page_that_is_not_there_keeps_the_menu_for_those_signed_in(desk: Seat) -> None:
    seat = desk("rivera")
    page = seat.see("/console/nowhere", 404)
    assert "Nothing is here" in page
    assert '<nav aria-label="Pages">' in page
    assert 'href="/console/finding"' in page
    assert "Sign out" in page
    assert number_on(page) != number_on(seat.see("/console/nowhere", 404))


def test_a_stranger_sees_no_menu(browser: TestClient) -> None:
    page = browser.get("/console/nowhere").text
    assert "Nothing is here" in page
    assert "<nav" not in page


def test_a_form_that_does_not_fit_leads_back_to_where_it_stood(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    page = desk("rivera").do(f"/console/households/{home}/stage", 422, stage="attic")
    assert f'<a href="/console/households/{home}">Back to the household</a>' in page
    assert "what you wrote is still there" in page
    assert "data-answer" not in page, "the form is not here: what was sent stays kept in the tab"


def test_a_form_that_is_too_old_says_so(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    page = desk("rivera").client.post(f"/console/households/{home}/notes", data={"csrf": "old", "note": "x"})
    assert page.status_code == 403
    assert "This form is too old" in page.text
    assert f'href="/console/households/{home}"' in page.text


def test_a_failure_is_a_page_too_and_its_number_stands_in_the_log(
    desk: Seat, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fails(*_given: object) -> None:
        raise RuntimeError("+12025550123 wrote: my address is 4 Mill Lane")

    monkeypatch.setattr(many_routes, "list_page", fails)
    seat = desk("rivera")
    with caplog.at_level(logging.INFO):
        answer = seat.client.get("/console/notices")
    assert answer.status_code == 500
    assert "That did not work" in answer.text
    assert '<nav aria-label="Pages">' in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    (line,) = ours(caplog)
    assert number_on(answer.text) in line
    assert "RuntimeError" in line
    assert "/console/notices" in line
    assert not re.search(r"2025550123|Mill Lane", line)


def test_while_the_database_is_away_there_is_a_page(desk: Seat, monkeypatch: pytest.MonkeyPatch) -> None:
    seat = desk("rivera")

    def away(*_given: object) -> None:
        raise OperationalError("select", {}, Exception("away"))

    monkeypatch.setattr(access, "signed_in", away)
    answer = seat.client.get("/console/notices")
    assert answer.status_code == 500
    assert "Try it again in a minute" in answer.text


def test_the_log_names_no_household(service: Service, desk: Seat, caplog: pytest.LogCaptureFixture) -> None:
    home, _ = one_household(service)
    with caplog.at_level(logging.INFO):
        desk("rivera").do(f"/console/households/{home}/stage", 422, stage="attic")
    (line,) = ours(caplog)
    assert str(home) not in line
    assert "/console/households/{household}/stage" in line


def test_in_the_language_of_the_account(service: Service, desk: Seat) -> None:
    seat = desk("rivera")
    seat.do("/console/account/language", language="es")
    assert 'lang="es"' in seat.see("/console/nowhere", 404)
