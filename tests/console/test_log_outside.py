"""Number and PIN: exactly this log, for a while, to whoever holds both; nothing is learned by guessing."""

from __future__ import annotations

import datetime as dt
import logging
import re
from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from guide_service.app import create_app
from guide_service.console import log_pins
from guide_service.database import reading, writing
from guide_service.records import Audit, DryingLog, Household, LogTries, LogVisit
from guide_service.wiring import Service
from tests.console.conftest import Desk, audited, token_in
from tests.console.rows import one_household

Seat = Callable[..., Desk]


class Outsider:
    def __init__(self, service: Service, address: str = "192.0.2.7") -> None:
        self.client = TestClient(create_app(service), follow_redirects=False, client=(address, 4000))

    def tries(self, number: str, pin: str) -> tuple[int, str]:
        token = token_in(self.client.get("/log").text)
        answer = self.client.post("/log", data={"csrf": token, "number": number, "pin": pin})
        return answer.status_code, answer.headers.get("location", answer.text)


def a_pin(seat: Desk, home: int, days: str = "14") -> tuple[str, str]:
    shown = seat.do(f"/console/households/{home}/log/pin", 200, days=days, pin_for="Weir Street Carpentry")
    number, pin = re.findall(r'<dd dir="ltr">(\d{4}-\d{4})<', shown)[:2]
    return number, pin


@pytest.fixture
def opened(service: Service, desk: Seat) -> tuple[int, str, str]:
    home, _ = one_household(service)
    return home, *a_pin(desk("rivera"), home)


def test_number_and_pin_show_this_log_and_nothing_else(service: Service, opened: tuple[int, str, str]) -> None:
    _, number, pin = opened
    other, _ = one_household(service, "+12025550124")
    someone = Outsider(service)
    assert someone.tries(number, pin.replace("-", "")) == (303, "/log/sheet")
    shown = someone.client.get("/log/sheet")
    assert shown.status_code == 200
    assert f"Drying log {number}" in shown.text
    assert "/console/households" not in shown.text
    assert someone.client.get("/log/sheet.pdf?paper=a4").content.startswith(b"%PDF-")
    for address in ("/console", f"/console/households/{other}", f"/console/households/{other}/log"):
        assert someone.client.get(address).headers["location"] == "/console/sign-in"


def test_the_pin_is_kept_as_a_hash_only_and_shown_once(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    _, pin = a_pin(seat, home)
    with reading(service.engine) as session:
        log = session.exec(select(DryingLog)).one()
        audit = [str(row.detail) for row in session.exec(select(Audit))]
    assert (log.pin_hash or "").startswith("$argon2id$")
    plain = pin.replace("-", "")
    assert plain not in str(log.model_dump())
    assert not [detail for detail in audit if plain in detail or pin in detail]
    assert pin not in seat.see(f"/console/households/{home}/log")


def test_a_pin_as_it_is_written_is_taken_too(service: Service, opened: tuple[int, str, str]) -> None:
    _, number, pin = opened
    assert Outsider(service).tries(f" {number.replace('-', ' ')} ", pin)[0] == 303


def test_absent_and_existing_numbers_are_answered_alike(service: Service, opened: tuple[int, str, str]) -> None:
    _, number, pin = opened
    absent = "0000-0000" if number != "0000-0000" else "1111-1111"
    tried = [(absent, pin), (number, "00000000"), ("", ""), (number, "x" * 20)]
    answers = {Outsider(service, f"192.0.2.{n}").tries(*both) for n, both in enumerate(tried)}
    bare = {(status, re.sub(r'value="[^"]*"', "", text)) for status, text in answers}
    assert len(bare) == 1
    assert next(iter(bare))[0] == 401


def test_a_log_is_locked_after_wrong_tries_and_says_so_to_nobody(
    service: Service, opened: tuple[int, str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    _, number, pin = opened
    for n in range(log_pins.FREE_TRIES):
        assert Outsider(service, f"198.51.100.{n}").tries(number, "11111111")[0] == 401
    assert Outsider(service, "198.51.100.50").tries(number, pin)[0] == 401, "locked, and told as if it were wrong"
    true_now = log_pins.real_now
    monkeypatch.setattr(log_pins, "real_now", lambda: true_now() + dt.timedelta(minutes=3))
    assert Outsider(service, "198.51.100.51").tries(number, pin)[0] == 303, "the lock ends"
    with reading(service.engine) as session:
        assert session.exec(select(DryingLog)).one().wrong_tries == 0


def test_after_many_wrong_tries_the_pin_has_ended(
    service: Service, opened: tuple[int, str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    _, number, pin = opened
    with writing(service.engine) as session:
        session.exec(select(DryingLog)).one().wrong_tries = log_pins.MOST_WRONG
    assert Outsider(service).tries(number, pin)[0] == 401
    with reading(service.engine) as session:
        assert session.exec(select(DryingLog)).one().pin_hash is None


def test_an_address_that_tries_too_often_waits_whatever_it_tries(
    service: Service, opened: tuple[int, str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    _, number, pin = opened
    someone = Outsider(service)
    for n in range(log_pins.FREE_TRIES_OF_ADDRESS):
        assert someone.tries(f"0000-00{n:02}", "22222222")[0] == 401
    assert someone.tries(number, pin)[0] == 429
    assert Outsider(service, "192.0.2.99").tries(number, pin)[0] == 303, "nobody else waits"
    true_now = log_pins.real_now
    monkeypatch.setattr(log_pins, "real_now", lambda: true_now() + dt.timedelta(days=2))
    assert someone.tries("0000-0000", "22222222")[0] == 401, "after a day they are forgotten"
    with reading(service.engine) as session:
        kept = session.exec(select(LogTries)).all()
    assert not [row for row in kept if "192.0.2" in row.address_key]


def test_a_pin_ends_by_the_services_clock_and_with_it_every_look(
    service: Service, opened: tuple[int, str, str]
) -> None:
    _, number, pin = opened
    someone = Outsider(service)
    someone.tries(number, pin)
    service.clock.advance(days=14, minutes=1)  # type: ignore[attr-defined]
    assert Outsider(service).tries(number, pin)[0] == 401
    assert someone.client.get("/log/sheet").headers["location"] == "/log"


def test_a_look_ends_after_half_an_hour(
    service: Service, opened: tuple[int, str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    _, number, pin = opened
    someone = Outsider(service)
    someone.tries(number, pin)
    true_now = log_pins.real_now
    monkeypatch.setattr(log_pins, "real_now", lambda: true_now() + dt.timedelta(minutes=31))
    assert someone.client.get("/log/sheet").headers["location"] == "/log"
    assert someone.client.get("/log/sheet.pdf").headers["location"] == "/log"


@pytest.mark.parametrize("ending", ["end", "another", "merged"])
def test_an_ended_pin_closes_looks_that_are_open(service: Service, desk: Seat, ending: str) -> None:
    home, _ = one_household(service)
    seat, someone = desk("rivera"), Outsider(service)
    number, pin = a_pin(seat, home)
    someone.tries(number, pin)
    if ending == "end":
        seat.do(f"/console/households/{home}/log/pin/end")
    elif ending == "another":
        a_pin(seat, home)
    else:
        with writing(service.engine) as session:
            session.get_one(Household, home).merged_into = home + 1
    assert someone.client.get("/log/sheet").headers["location"] == "/log"
    assert someone.tries(number, pin)[0] == 401


def test_whoever_leaves_has_to_give_both_again(service: Service, opened: tuple[int, str, str]) -> None:
    _, number, pin = opened
    someone = Outsider(service)
    someone.tries(number, pin)
    token = token_in(someone.client.get("/log").text)
    someone.client.post("/log/leave", data={"csrf": token})
    with reading(service.engine) as session:
        assert session.exec(select(LogVisit)).all() == []
    assert someone.client.get("/log/sheet").headers["location"] == "/log"


def test_every_try_and_every_look_is_in_the_audit(service: Service, opened: tuple[int, str, str]) -> None:
    home, number, pin = opened
    someone = Outsider(service)
    someone.tries(number, "33333333")
    someone.tries(number, pin)
    someone.client.get("/log/sheet")
    someone.client.get("/log/sheet.pdf")
    assert audited(service)[-5:] == ["try_log_pin", "try_log_pin", "open_log_by_pin", "look_log_by_pin",
                                     "look_log_by_pin"]  # fmt: skip
    with reading(service.engine) as session:
        assert {row.household_id for row in session.exec(select(Audit).where(Audit.agent_id.is_(None)))} == {home}  # type: ignore[union-attr]


def test_number_and_pin_stand_in_no_address_and_no_log_file(
    service: Service, opened: tuple[int, str, str], caplog: pytest.LogCaptureFixture
) -> None:
    _, number, pin = opened
    someone = Outsider(service)
    with caplog.at_level(logging.DEBUG):
        someone.tries(number, "44444444")
        status, location = someone.tries(number, pin)
        shown = someone.client.get(location)
    assert status == 303
    said = caplog.text + location + "".join(re.findall(r'(?:href|action)="([^"]*)"', shown.text))
    for secret in (number, number.replace("-", ""), pin, pin.replace("-", "")):
        assert secret not in said
    assert someone.client.get(f"/log?number={number}&pin={pin}").status_code == 200, "what an address says is not read"
    assert pin not in someone.client.get(f"/log?number={number}&pin={pin}").text


def test_a_form_of_somebody_else_opens_nothing(service: Service, opened: tuple[int, str, str]) -> None:
    _, number, pin = opened
    answer = Outsider(service).client.post("/log", data={"csrf": "guess", "number": number, "pin": pin})
    assert answer.status_code == 403


def test_a_pin_is_made_for_somebody_and_for_days_that_are_offered(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    seat.do(f"/console/households/{home}/log/pin", 422, days="3650", pin_for="anyone")
    seat.do(f"/console/households/{home}/log/pin", 422, days="14", pin_for="")
