"""Who comes in, who does not, and what the cookie and the page carry."""

from __future__ import annotations

import datetime as dt
import re
import threading

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from guide_service.accounts import disable_account
from guide_service.app import create_app
from guide_service.clock import FixedClock
from guide_service.console import passwords
from guide_service.console import sign_in as signing
from guide_service.console.access import MAX_FORM_BYTES
from guide_service.console.sign_in import FREE_TRIES, LONGEST_WAIT_SECONDS, wait_after
from guide_service.database import reading, writing
from guide_service.records import Agent, AgentSession
from guide_service.wiring import Service
from tests.console.conftest import Desk, audited, token_in
from tests.console.rows import PASSWORD, make_agent


def try_to_enter(browser: TestClient, login: str, password: str) -> int:
    token = token_in(browser.get("/console/sign-in").text)
    answer = browser.post("/console/sign-in", data={"csrf": token, "login": login, "password": password})
    return answer.status_code


def test_the_right_password_opens_the_list(service: Service, browser: TestClient) -> None:
    make_agent(service, "rivera")
    assert try_to_enter(browser, "Rivera ", PASSWORD) == 303
    assert browser.get("/console").status_code == 200


@pytest.mark.parametrize(("login", "password"), [("rivera", "a river of ten letters"), ("nobody", PASSWORD), ("", "")])
def test_anything_else_opens_nothing(service: Service, browser: TestClient, login: str, password: str) -> None:
    make_agent(service, "rivera")
    assert try_to_enter(browser, login, password) == 401
    assert browser.get("/console").headers["location"] == "/console/sign-in"


def test_the_third_wrong_try_makes_even_the_right_one_wait(
    service: Service, browser: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_agent(service, "rivera")
    assert [try_to_enter(browser, "rivera", "wrong") for _ in range(FREE_TRIES)] == [401] * FREE_TRIES
    assert try_to_enter(browser, "rivera", PASSWORD) == 429
    later = dt.datetime.now(dt.UTC) + wait_after(FREE_TRIES)
    monkeypatch.setattr(signing, "real_now", lambda: later)
    assert try_to_enter(browser, "rivera", PASSWORD) == 303


def test_waits_double_and_end_at_a_quarter_of_an_hour() -> None:
    waits = [wait_after(tries).total_seconds() for tries in range(FREE_TRIES + 40)]
    assert waits[:5] == [0, 0, 0, 5, 10]
    assert waits[-1] == LONGEST_WAIT_SECONDS == 900
    assert waits == sorted(waits)


def test_coming_in_forgets_the_wrong_tries(service: Service, browser: TestClient) -> None:
    make_agent(service, "rivera")
    try_to_enter(browser, "rivera", "wrong")
    try_to_enter(browser, "rivera", PASSWORD)
    with reading(service.engine) as session:
        assert session.exec(select(Agent.failed_tries)).one() == 0


def test_the_cookie_is_kept_from_scripts_and_only_its_hash_is_stored(service: Service, browser: TestClient) -> None:
    make_agent(service, "rivera")
    token = token_in(browser.get("/console/sign-in").text)
    answer = browser.post("/console/sign-in", data={"csrf": token, "login": "rivera", "password": PASSWORD})
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    assert "Secure" not in cookie
    value = re.match(r"guide_agent=([^;]+)", cookie)[1]  # type: ignore[index]
    with reading(service.engine) as session:
        row = session.exec(select(AgentSession)).one()
    assert row.token_key == service.sealer.token_key(value)
    assert value not in row.model_dump_json()


def test_over_https_the_cookie_is_secure_and_bound_to_the_host(service: Service) -> None:
    import dataclasses

    settings = service.settings.model_copy(update={"public_url": "https://guide.larkwater.example"})
    browser = TestClient(create_app(dataclasses.replace(service, settings=settings)), base_url="https://testserver")
    cookie = browser.get("/console/sign-in").headers["set-cookie"]
    assert cookie.startswith("__Host-guide_form=")
    assert "Secure" in cookie


def test_a_session_ends_by_real_time_and_not_by_the_demos_clock(
    service: Service, clock: FixedClock, desk: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_agent(service, "rivera")
    seat = Desk(service, "rivera")
    clock.advance(days=30)
    seat.see("/console")
    tomorrow = dt.datetime.now(dt.UTC) + dt.timedelta(hours=signing.SESSION_HOURS)
    monkeypatch.setattr(signing, "real_now", lambda: tomorrow)
    assert seat.client.get("/console").status_code == 303


def test_signing_out_ends_the_session_on_the_server(service: Service) -> None:
    make_agent(service, "rivera")
    seat = Desk(service, "rivera")
    cookie = seat.client.cookies["guide_agent"]
    assert seat.do("/console/sign-out") == "/console/sign-in"
    seat.client.cookies.set("guide_agent", cookie)
    assert seat.client.get("/console").status_code == 303


@pytest.mark.parametrize("how", ["disabled", "expired"])
def test_an_account_that_is_closed_is_out_at_once(service: Service, browser: TestClient, how: str) -> None:
    make_agent(service, "rivera")
    seat = Desk(service, "rivera")
    if how == "disabled":
        disable_account(service.engine, "rivera")
    else:
        with writing(service.engine) as session:
            agent = session.exec(select(Agent)).one()
            agent.expires_at = dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1)
            session.add(agent)
    assert seat.client.get("/console").status_code == 303
    assert try_to_enter(browser, "rivera", PASSWORD) == 401


def test_a_sign_in_form_that_is_not_ours_is_refused(service: Service, browser: TestClient) -> None:
    make_agent(service, "rivera")
    answer = browser.post("/console/sign-in", data={"csrf": "guess", "login": "rivera", "password": PASSWORD})
    assert answer.status_code == 403


def test_signing_in_and_out_is_written_down(service: Service, browser: TestClient) -> None:
    make_agent(service, "rivera")
    try_to_enter(browser, "rivera", PASSWORD)
    page = browser.get("/console").text
    browser.post("/console/sign-out", data={"csrf": token_in(page)})
    assert audited(service) == ["sign_in", "list", "sign_out"]


def test_a_flood_of_sign_ins_does_not_hold_the_servers_threads(
    service: Service, browser: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_agent(service, "rivera")
    monkeypatch.setattr(passwords, "_in_line", threading.BoundedSemaphore(1))
    with passwords._in_line:
        assert try_to_enter(browser, "rivera", PASSWORD) == 429
    assert try_to_enter(browser, "rivera", PASSWORD) == 303


def test_a_form_that_is_too_large_is_not_read(browser: TestClient) -> None:
    assert browser.post("/console/sign-in", data={"login": "x" * (MAX_FORM_BYTES + 1)}).status_code == 413


def test_every_page_forbids_scripts_and_frames_of_others(service: Service, browser: TestClient) -> None:
    for address in ("/console/sign-in", "/console", "/console/nothing", "/healthz"):
        headers = browser.get(address).headers
        assert headers["content-security-policy"].startswith("default-src 'none'; style-src 'self'; script-src 'self'")
        assert "frame-ancestors 'none'" in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"
