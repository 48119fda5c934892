"""Notices on the agents' pages: written, looked at, approved by a second person, started, followed, stopped."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from sqlmodel import select

from guide_service.database import reading
from guide_service.records import Notice, NoticeRecipient
from guide_service.wiring import Service
from tests.console.conftest import Desk, audited
from tests.notices.crowd import add_homes, go_on, with_rules
from tests.people import work

Seat = Callable[..., Desk]
WRITTEN = {"title": "Saturday", "own_en": "The office is open on Saturday.", "area_millrace": "1"}


@pytest.fixture
def service(service: Service) -> Service:
    return with_rules(service, second_person_above=2)


def seen_in(page: str) -> str:
    return re.search(r'name="seen" value="([0-9a-f]+)"', page)[1]


def one(service: Service) -> Notice:
    with reading(service.engine) as session:
        return session.exec(select(Notice)).one()


def test_from_the_form_to_the_last_text(service: Service, desk: Seat) -> None:
    add_homes(service, 4)
    add_homes(service, 1, first=10, language="es")
    author, second = desk("rivera"), desk("chief", coordinator=True)
    address = author.do("/console/notices", **WRITTEN).partition("?")[0]
    page = author.see(address)
    assert "Approve these words" not in page
    assert "no text in their language" in page
    assert "$0.04" in page
    assert "\u20260010" in author.see(f"{address}/without-text")
    seen = seen_in(second.see(address))
    assert "somebody else must approve" in author.do(f"{address}/approve", 403, seen=seen)
    assert "second person must approve" in author.do(f"{address}/start", 409, seen=seen)
    second.do(f"{address}/approve", seen=seen)
    author.do(f"{address}/start", seen=seen_in(author.see(address)))
    go_on(service, 5)
    progress = author.see(f"{address}/progress")
    assert re.search(r"sent, no receipt yet</dt>\s*<dd class=\"figure\">4<", progress)
    done = [action for action in audited(service) if action.startswith("notice_")]
    assert done == ["notice_write", "notice_without_text", "notice_approve", "notice_start"]


def test_a_change_voids_the_approval_and_an_old_page_approves_nothing(service: Service, desk: Seat) -> None:
    add_homes(service, 4)
    author, second = desk("rivera"), desk("chief", coordinator=True)
    address = author.do("/console/notices", **WRITTEN).partition("?")[0]
    old = seen_in(second.see(address))
    second.do(f"{address}/approve", seen=old)
    author.do(f"{address}/change", **{**WRITTEN, "own_en": "The office is closed on Saturday."})
    assert one(service).approved_by is None
    assert "changed since you saw it" in second.do(f"{address}/approve", 409, seen=old)


def test_stopped_from_the_page(service: Service, desk: Seat) -> None:
    add_homes(service, 2)
    author = desk("rivera")
    address = author.do("/console/notices", **WRITTEN).partition("?")[0]
    author.do(f"{address}/start", seen=seen_in(author.see(address)))
    work(service, at_most=1)
    author.do(f"{address}/stop")
    with reading(service.engine) as session:
        assert set(session.exec(select(NoticeRecipient.state))) == {"stopped"}
    assert "not sent: stopped" in author.see(address)


def test_an_agent_writes_to_the_own_offices_areas_only(service: Service, desk: Seat) -> None:
    add_homes(service, 1, area="millrace")
    add_homes(service, 1, area="upper_larkwater", first=10)
    add_homes(service, 1, area=None, first=20)
    upper = desk("holt", "upper")
    upper.do("/console/notices", title="t", own_en="w", area_millrace="1", area_unknown="1")
    assert one(service).choice["areas"] == ["upper_larkwater"]
    assert not one(service).choice["area_unknown"]
    rivera = desk("rivera")
    assert "No notice has been written" in rivera.see("/console/notices")
    rivera.see(f"/console/notices/{one(service).id}", 404)
    desk("chief", coordinator=True).see(f"/console/notices/{one(service).id}")


def test_a_form_that_says_nothing_comes_back_with_what_was_written(service: Service, desk: Seat) -> None:
    page = desk("rivera").do("/console/notices", 422, title="Saturday")
    assert "Choose a ready-made text, or write one." in page
    assert 'value="Saturday"' in page


def test_a_county_without_a_price_says_so(service: Service, desk: Seat, monkeypatch: pytest.MonkeyPatch) -> None:
    author = desk("rivera")
    address = author.do("/console/notices", **WRITTEN).partition("?")[0]
    assert "estimated" in author.see(address)
    monkeypatch.setattr(author.client.app.state, "service", with_rules(service, cost_per_segment=None))
    assert "names no cost per segment" in author.see(address)
