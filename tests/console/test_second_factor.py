"""The second factor: set up by the person, asked at every sign-in, each code good once, reset for a lost phone."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
from collections.abc import Callable

import pyotp
import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from guide_service.accounts import reset_second_factor
from guide_service.app import create_app
from guide_service.console import account
from guide_service.console import sign_in as signing
from guide_service.database import reading
from guide_service.records import Agent, AgentSession, RecoveryCode
from guide_service.wiring import Service
from tests.console.conftest import Desk, audited, token_in
from tests.console.rows import PASSWORD, make_agent
from tests.console.test_who_may_what import filled, guarded, ids_of

SET_UP = "/console/account/second-factor"
Seat = Callable[..., Desk]


class Hands:
    """Real time for sessions and codes, moved by hand."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.at = dt.datetime(2027, 3, 15, 12, 0, tzinfo=dt.UTC)
        for module in (signing, account):
            patch.setattr(module, "real_now", lambda: self.at)

    def advance(self, **by: float) -> None:
        self.at += dt.timedelta(**by)


@pytest.fixture
def hands(monkeypatch: pytest.MonkeyPatch) -> Hands:
    return Hands(monkeypatch)


def key_on(page: str) -> str:
    shown = re.search(r'class="key">(.*?)</p>', page, re.DOTALL)
    assert shown, page
    return "".join(re.findall(r"<span>(\w+)</span>", shown[1]))


def set_up(seat: Desk, hands: Hands) -> tuple[pyotp.TOTP, list[str]]:
    """The app and the recovery codes of somebody who has just set the factor up."""
    token = token_in(seat.see(SET_UP))
    assert seat.client.post(f"{SET_UP}/begin", data={"csrf": token}).status_code == 303
    page = seat.see(SET_UP)
    app = pyotp.TOTP(key_on(page))
    answer = seat.client.post(f"{SET_UP}/confirm", data={"csrf": token_in(page), "code": app.at(hands.at)})
    assert answer.status_code == 200, answer.text
    return app, re.findall(r"<li>([a-z2-9]{4}(?:-[a-z2-9]{4}){3})</li>", answer.text)


def password(browser: TestClient) -> None:
    token = token_in(browser.get("/console/sign-in").text)
    answer = browser.post("/console/sign-in", data={"csrf": token, "login": "rivera", "password": PASSWORD})
    assert answer.headers["location"] == "/console/sign-in/code"


def code(browser: TestClient, typed: str) -> int:
    page = browser.get("/console/sign-in/code").text
    return browser.post("/console/sign-in/code", data={"csrf": token_in(page), "code": typed}).status_code


def test_the_password_alone_opens_nothing_once_it_is_set(
    service: Service, browser: TestClient, desk: Seat, hands: Hands
) -> None:
    app, _ = set_up(desk("rivera"), hands)
    hands.advance(minutes=2)
    password(browser)
    for address in ("/console", "/console/account", SET_UP):
        assert browser.get(address).headers["location"] == "/console/sign-in"
    assert code(browser, app.at(hands.at)) == 303
    assert browser.get("/console").status_code == 200


def test_the_secret_and_the_codes_are_not_in_the_database(service: Service, desk: Seat, hands: Hands) -> None:
    app, codes = set_up(desk("rivera"), hands)
    assert len(codes) == 10
    with reading(service.engine) as session:
        agent = session.exec(select(Agent)).one()
        hashes = [row.code_key for row in session.exec(select(RecoveryCode))]
    assert agent.factor_sealed is not None
    assert app.secret.encode() not in agent.factor_sealed
    assert service.sealer.open_factor(agent.factor_sealed, agent.factor_key_id or "") == app.secret
    assert len(hashes) == 10
    assert not {each.replace("-", "") for each in codes} & set(hashes)


def test_a_code_is_good_once_and_so_is_the_one_before_it(
    service: Service, browser: TestClient, desk: Seat, hands: Hands
) -> None:
    app, _ = set_up(desk("rivera"), hands)
    password(browser)
    assert code(browser, app.at(hands.at)) == 401, "the code that set it up"
    hands.advance(minutes=5)
    good, earlier = app.at(hands.at), app.at(hands.at - dt.timedelta(seconds=30))
    password(browser)
    assert code(browser, good) == 303
    for used in (good, earlier):
        password(browser)
        assert code(browser, used) == 401


def test_a_clock_may_differ_by_one_step_and_no_more(
    service: Service, browser: TestClient, desk: Seat, hands: Hands
) -> None:
    app, _ = set_up(desk("rivera"), hands)
    hands.advance(minutes=10)
    password(browser)
    assert code(browser, app.at(hands.at - dt.timedelta(seconds=60))) == 401
    assert code(browser, app.at(hands.at - dt.timedelta(seconds=30))) == 303


def test_a_recovery_code_works_once_however_it_is_typed(
    service: Service, browser: TestClient, desk: Seat, hands: Hands
) -> None:
    _, codes = set_up(desk("rivera"), hands)
    password(browser)
    assert code(browser, codes[0].replace("-", " ").upper()) == 303
    password(browser)
    assert code(browser, codes[0]) == 401
    with reading(service.engine) as session:
        assert len([row for row in session.exec(select(RecoveryCode)) if row.used_at]) == 1


def test_wrong_codes_are_slowed_down_and_the_password_does_not_forgive_them(
    service: Service, browser: TestClient, desk: Seat, hands: Hands
) -> None:
    app, _ = set_up(desk("rivera"), hands)
    hands.advance(minutes=2)
    password(browser)
    assert [code(browser, "000000") for _ in range(3)] == [401, 401, 401]
    assert code(browser, app.at(hands.at)) == 429
    hands.advance(seconds=6)
    password(browser)
    assert code(browser, "000000") == 401
    assert code(browser, app.at(hands.at)) == 429, "the wrong codes before the password still count"
    hands.advance(seconds=11)
    assert code(browser, app.at(hands.at)) == 303


def test_a_password_does_not_wait_for_its_code_for_ever(browser: TestClient, desk: Seat, hands: Hands) -> None:
    app, _ = set_up(desk("rivera"), hands)
    hands.advance(minutes=2)
    password(browser)
    token = token_in(browser.get("/console/sign-in/code").text)
    hands.advance(minutes=signing.CODE_MINUTES)
    answer = browser.post("/console/sign-in/code", data={"csrf": token, "code": app.at(hands.at)})
    assert answer.status_code == 401
    assert browser.get("/console").status_code == 303


def test_the_code_ends_the_session_that_waited_for_it(
    service: Service, browser: TestClient, desk: Seat, hands: Hands
) -> None:
    app, _ = set_up(desk("rivera"), hands)
    hands.advance(minutes=2)
    password(browser)
    waited = browser.cookies["guide_agent"]
    code(browser, app.at(hands.at))
    assert browser.cookies["guide_agent"] != waited
    browser.cookies.clear()
    browser.cookies.set("guide_agent", waited)
    assert browser.get("/console").status_code == 303


def test_a_form_of_the_code_that_is_not_ours_is_refused(browser: TestClient, desk: Seat, hands: Hands) -> None:
    app, _ = set_up(desk("rivera"), hands)
    hands.advance(minutes=2)
    password(browser)
    answer = browser.post("/console/sign-in/code", data={"csrf": "guess", "code": app.at(hands.at)})
    assert answer.status_code == 403


def test_the_square_code_is_made_of_shapes_that_the_policy_allows(desk: Seat, hands: Hands) -> None:
    seat = desk("rivera")
    seat.client.post(f"{SET_UP}/begin", data={"csrf": seat.csrf()})
    page = seat.see(SET_UP)
    assert "<svg" in page
    assert "style=" not in page
    assert "<script" not in page.split("<svg")[1].split("</svg>")[0]


def test_setting_it_up_with_a_wrong_code_sets_nothing(service: Service, desk: Seat, hands: Hands) -> None:
    seat = desk("rivera")
    seat.client.post(f"{SET_UP}/begin", data={"csrf": seat.csrf()})
    answer = seat.client.post(f"{SET_UP}/confirm", data={"csrf": seat.csrf(), "code": "000000"})
    assert answer.status_code == 422
    with reading(service.engine) as session:
        assert session.exec(select(Agent.factor_set_at)).one() is None


def test_setting_it_up_ends_the_sessions_that_began_without_a_code(service: Service, desk: Seat, hands: Hands) -> None:
    seat, elsewhere = desk("rivera"), Desk(service, "rivera")
    set_up(seat, hands)
    seat.see("/console")
    assert elsewhere.client.get("/console").status_code == 303


def test_it_is_taken_off_and_codes_are_made_anew_only_with_a_code(service: Service, desk: Seat, hands: Hands) -> None:
    seat = desk("rivera")
    app, codes = set_up(seat, hands)
    seat.do(f"{SET_UP}/remove", 422, code="000000")
    hands.advance(minutes=2)
    page = seat.do(f"{SET_UP}/recovery-codes", 200, code=app.at(hands.at))
    assert codes[0] not in page
    seat.do(f"{SET_UP}/remove", 422, code=codes[0])
    assert seat.do(f"{SET_UP}/remove", code=re.findall(r"<li>([a-z2-9-]{19})</li>", page)[0]) == (
        f"{SET_UP}?done=factor_removed"
    )
    with reading(service.engine) as session:
        assert session.exec(select(Agent.factor_sealed)).one() is None
        assert session.exec(select(RecoveryCode)).all() == []
    assert [action for action in audited(service) if "factor" in action or "codes" in action] == [
        "set_second_factor",
        "new_recovery_codes",
        "remove_second_factor",
    ]


def test_a_lost_phone_is_reset_and_the_person_signed_out(service: Service, desk: Seat, hands: Hands) -> None:
    seat = desk("rivera")
    set_up(seat, hands)
    reset_second_factor(service.engine, "rivera")
    assert seat.client.get("/console").status_code == 303
    with reading(service.engine) as session:
        assert session.exec(select(Agent.factor_set_at)).one() is None
    assert "reset_second_factor" in audited(service)


def strict(service: Service) -> Service:
    """The office of Millrace requires a second factor."""
    offices = tuple(o.model_copy(update={"second_factor": o.id == "millrace"}) for o in service.county.offices)
    return service.with_county(service.county.model_copy(update={"offices": offices}))


def test_where_the_office_requires_it_nothing_else_is_reached_before(service: Service, hands: Hands) -> None:
    required = strict(service)
    make_agent(required, "rivera")
    seat, ids = Desk(required, "rivera"), ids_of(required)
    token = token_in(seat.see(SET_UP))
    for method, path, who in guarded(required):
        if who == "unset":
            continue
        answer = seat.client.request(method, filled(path, ids), data={"csrf": token} if method == "POST" else None)
        assert (answer.status_code, answer.headers.get("location")) == (303, SET_UP), (method, path)
    set_up(seat, hands)
    seat.see("/console")


@pytest.mark.parametrize(("login", "office", "coordinator", "held"), [
    ("rivera", "millrace", False, True), ("holt", "upper", False, False), ("county", None, True, True),
])  # fmt: skip
def test_the_rule_holds_for_whoever_sees_that_offices_households(
    service: Service, login: str, office: str | None, coordinator: bool, held: bool
) -> None:
    required = strict(service)
    make_agent(required, login, office, coordinator=coordinator)
    seat = Desk(required, login)
    assert (seat.client.get("/console").status_code == 303) is held


def test_an_idle_session_ends_and_one_in_use_does_not(service: Service, desk: Seat, hands: Hands) -> None:
    used, idle = desk("rivera"), Desk(service, "rivera")
    for _ in range(5):
        hands.advance(hours=signing.IDLE_HOURS / 2)
        used.see("/console")
    assert idle.client.get("/console").status_code == 303


def test_sessions_are_listed_and_ended_one_by_one_and_all(service: Service, desk: Seat) -> None:
    seat, other, third = desk("rivera"), Desk(service, "rivera"), Desk(service, "rivera")
    stranger = desk("holt", "upper")
    page = seat.see("/console/account")
    assert page.count('name="session"') == 3
    key = service.sealer.token_key(other.client.cookies["guide_agent"])
    stranger.do("/console/account/sessions/end", 404, session=key)
    seat.do("/console/account/sessions/end", session=key)
    assert other.client.get("/console").status_code == 303
    third.see("/console")
    assert seat.do("/console/account/sessions/end-all") == "/console/sign-in"
    assert third.client.get("/console").status_code == 303
    with reading(service.engine) as session:
        rows = session.exec(select(AgentSession).where(AgentSession.agent_id == seat.agent.id)).all()
    assert all(row.revoked_at for row in rows)


NEW = "seven herons under the bridge"


def test_a_new_password_ends_every_other_session(service: Service, desk: Seat, browser: TestClient) -> None:
    seat, other = desk("rivera"), Desk(service, "rivera")
    seat.do("/console/account/password", present=PASSWORD, new=NEW, again=NEW)
    seat.see("/console")
    assert other.client.get("/console").status_code == 303
    token = token_in(browser.get("/console/sign-in").text)
    tried = {
        word: browser.post("/console/sign-in", data={"csrf": token, "login": "rivera", "password": word}).status_code
        for word in (PASSWORD, NEW)
    }
    assert tried == {PASSWORD: 401, NEW: 303}


@pytest.mark.parametrize(
    ("present", "new", "again"),
    [
        ("wrong", NEW, NEW),
        (PASSWORD, NEW, NEW + "s"),
        (PASSWORD, "short", "short"),
        (PASSWORD, "rivera" * 4, "rivera" * 4),
    ],
)
def test_a_password_is_not_changed_by_anything_less(
    service: Service, desk: Seat, present: str, new: str, again: str
) -> None:
    seat, other = desk("rivera"), Desk(service, "rivera")
    seat.do("/console/account/password", 422, present=present, new=new, again=again)
    other.see("/console")


def test_over_https_browsers_are_told_to_stay_there(service: Service) -> None:
    settings = service.settings.model_copy(update={"public_url": "https://guide.larkwater.example"})
    secure = TestClient(create_app(dataclasses.replace(service, settings=settings)), base_url="https://testserver")
    assert secure.get("/console/sign-in").headers["strict-transport-security"] == "max-age=31536000"
    plain = TestClient(create_app(service))
    assert "strict-transport-security" not in plain.get("/console/sign-in").headers
