"""What the page of records says of retention, and what stands in the audit of sign-ins that were refused."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from guide_service import jobs
from guide_service.console import sign_in
from guide_service.console.sign_in import Refusal
from guide_service.database import writing
from guide_service.records import Audit, RetentionStep
from guide_service.wiring import Service
from tests.console.conftest import Desk, token_in
from tests.console.rows import PASSWORD, make_agent, make_household, make_message
from tests.people import rows, work

Seat = Callable[..., Desk]


def apply_retention(service: Service) -> None:
    with writing(service.engine) as session:
        now = service.clock.now()
        jobs.enqueue(session, "retention", key="retention", payload={}, run_at=now, now=now)
    work(service)


def test_what_is_kept_when_it_was_applied_and_how_much_it_removed(service: Service, desk: Seat) -> None:
    seat = desk("vega", None, coordinator=True)
    assert seat.see("/console/records").count("not yet") == 7
    with writing(service.engine) as session:
        home, contact, _ = make_household(session, service)
        for _ in range(3):
            make_message(session, service, home, contact, body="hello")
    service.clock.advance(days=400)
    apply_retention(service)
    steps = {step.name: step for step in [*_steps(service)]}
    assert (steps["bodies"].last_removed, steps["bodies"].removed) == (3, 3)
    assert steps["bodies"].last_at == service.clock.now()
    page = seat.see("/console/records")
    assert "not yet" not in page
    assert "Words of texts that came in" in page
    assert "365 days" in page
    service.clock.advance(days=400)
    assert "is a worker running?" in seat.see("/console/records")
    apply_retention(service)
    steps = {step.name: step for step in [*_steps(service)]}
    assert (steps["bodies"].last_removed, steps["bodies"].removed) == (0, 3)
    assert steps["texts"].last_removed == 3, "the rows went in the second year"


def _steps(service: Service) -> list[RetentionStep]:
    with writing(service.engine) as session:
        return list(session.exec(select(RetentionStep)))


def refused(service: Service) -> list[Audit]:
    return rows(service, Audit, Audit.action == "sign_in_refused")


def test_a_refused_sign_in_is_in_the_audit_without_what_was_typed(service: Service, browser: TestClient) -> None:
    make_agent(service, "rivera")
    for login, password in (("rivera", "not it at all"), ("hunter2hunter2", "x" * 12)):
        token = token_in(browser.get("/console/sign-in").text)
        fields = {"csrf": token, "login": login, "password": password}
        assert browser.post("/console/sign-in", data=fields).status_code == 401
    known, unknown = refused(service)
    assert (known.agent_id is not None, known.detail) == (True, {"why": "wrong", "step": "password"})
    assert (unknown.agent_id, unknown.detail["login"]) == (None, "h***(14)"), "somebody may type a password there"
    assert all("not it" not in str(row.detail) and "hunter2" not in str(row.detail) for row in refused(service))


def test_one_that_must_wait_too_and_a_right_one_leaves_none(service: Service) -> None:
    make_agent(service, "rivera")
    for _ in range(4):
        sign_in.sign_in(service, "rivera", "wrong again")
    assert sign_in.sign_in(service, "rivera", PASSWORD) == Refusal.WAIT
    assert [row.detail["why"] for row in refused(service)] == ["wrong", "wrong", "wrong", "wait", "wait"]
    make_agent(service, "holt")
    assert not isinstance(sign_in.sign_in(service, "holt", PASSWORD), Refusal)
    assert len(refused(service)) == 5


def test_they_are_forgotten_after_half_a_year(service: Service) -> None:
    sign_in.sign_in(service, "nobody", "x")
    service.clock.advance(days=179)
    apply_retention(service)
    assert len(refused(service)) == 1
    service.clock.advance(days=2)
    apply_retention(service)
    assert refused(service) == []


@pytest.mark.parametrize("address", ["/console/records", "/console/records/new-recall", "/console/records/export"])
def test_the_pages_are_the_coordinators(service: Service, desk: Seat, address: str) -> None:
    desk("rivera").see(address, 404)
    desk("vega", None, coordinator=True).see(address)
