"""Every route of the application, tried by every role, by nobody, by a form without its token, by another office.

The list of routes is the application's own, and the table of who may what stands in ``who_may_what``: a route without a
row fails, so that a new one cannot be forgotten.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient
from sqlmodel import Session, select
from starlette.routing import Mount

from guide_service.app import create_app
from guide_service.carrier.kept import API, Kept
from guide_service.console.roles import Role, home_of
from guide_service.console.sign_in import open_session
from guide_service.database import reading, writing
from guide_service.dialogue.effects import EscalationReason
from guide_service.followup.escalations import raise_escalation
from guide_service.notices import deciding
from guide_service.notices.choice import Choice
from guide_service.recalls.finding import Wanted
from guide_service.recalls.marking import make_recall
from guide_service.records import (
    Agent,
    Contact,
    Conversation,
    Household,
    Loan,
    Message,
    MouldReport,
    PlaceRow,
    RoundHouse,
)
from guide_service.wiring import Service
from tests.console.conftest import Desk, token_in
from tests.console.rows import make_agent, one_household
from tests.console.who_may_what import WHO, rows

FIELDS = {"outcome": "called", "text": "hello", "area": "millrace", "sure": "1", "id": "danger.gas",
          "role": "interpreter"}  # fmt: skip
"""What the forms want; ids of this household are added."""


def routes_of_app(service: Service) -> list[tuple[str, str]]:
    found = {
        (method, each.path)
        for each in iter_route_contexts(create_app(service).routes)
        for method in (each.methods or ())
        if method != "HEAD"
    }
    assert len(found) > 40
    return sorted(found)


def console_routes(service: Service) -> list[tuple[str, str]]:
    return [(method, path) for method, path in routes_of_app(service) if path.startswith("/console")]


def guarded(service: Service) -> list[tuple[str, str, str]]:
    """Routes that ask for a sign-in, with the word of their row."""
    table = rows()
    found = [(method, path, table[method, path]) for method, path in console_routes(service)]
    # what ends something comes last: the others need it
    return sorted((row for row in found if row[2] != "anybody"), key=lambda row: row[1].endswith("/end"))


def ids_of(service: Service) -> dict[str, str]:
    """One household's ids, by the name that they have in the routes and forms; on the round of a volunteer."""
    home, escalation = one_household(service, area="millrace")
    with writing(service.engine) as session:
        raise_escalation(session, service, home, EscalationReason.DELETION)
    make_agent(service, "walker", "millrace", role=Role.VOLUNTEER)
    today = service.clock.now().date()
    with writing(service.engine) as session:
        volunteer = session.exec(select(Agent.id).where(Agent.login == "walker")).one()
        assigned = RoundHouse(volunteer_id=volunteer, household_id=home, first_day=today, last_day=today,
                              assigned_by=1, assigned_at=service.clock.now())  # fmt: skip
        session.add(assigned)
        contact = session.exec(select(Contact.id)).first()
        talk = session.exec(select(Conversation.id)).first()
        place = session.exec(select(PlaceRow.id)).first()
        report = session.exec(select(MouldReport.id)).first()
        left = word_left(session, service, contact, home)
        words = {"en": "Open on Saturday."}
        recall = make_recall(session, service, Wanted(today, None, "A3"), "low on its block", 1)
        loan = Loan(household_id=home, meter="A4", lent_on=today, lent_by=1, due_on=today)
        session.add(loan)
        notice = deciding.write(session, service, 1, "millrace", "Saturday", Choice(areas=("millrace",)), None, words)
    found = {"notice": notice.id, "household": home, "second": home, "escalation": escalation, "place": place,
             "report": report, "assigned": assigned.id, "contact": contact, "conversation": talk,
             "volunteer": volunteer, "recall": recall.id, "loan": loan.id, "policy_part": "limits",
             "policy_version": 1, "language": "es", "sid": "CA0", "message": left, "number": 1}  # fmt: skip
    return {name: str(value) for name, value in found.items()} | {"first_day": str(today), "last_day": str(today)}


def word_left(session: Session, service: Service, contact: int, home: int) -> int:
    """A message that somebody spoke, at the carrier."""
    resource = f"Recordings/RE{'1' * 32}"
    service.sender.kept[resource] = Kept(b"sound", "audio/mpeg")  # type: ignore[attr-defined]
    media = [{"url": f"{API}/{service.settings.account_sid}/{resource}", "type": "audio/mpeg"}]
    row = Message(contact_id=contact, household_id=home, direction="in", origin="person", body="",
                  at=service.clock.now(), media=media)  # fmt: skip
    session.add(row)
    session.flush()
    return row.id


def filled(path: str, ids: dict[str, str]) -> str:
    return path.format(**ids)


class Person:
    """Somebody of a role, with a fresh session for every request: some of them end it."""

    def __init__(self, service: Service, login: str) -> None:
        app = create_app(service)
        app.state.stopping = lambda: True  # a stream ends at once, as when the process is being stopped
        self.service, self.client = service, TestClient(app, follow_redirects=False)
        with reading(service.engine) as session:
            self.agent = session.exec(select(Agent).where(Agent.login == login)).one()

    def ask(self, method: str, path: str, ids: dict[str, str], token: str | None = "own") -> tuple[int, str]:
        with writing(self.service.engine) as session:
            cookie = open_session(session, self.service, self.agent)
        self.client.cookies.clear()
        self.client.cookies.set("guide_agent", cookie)
        data = {**FIELDS, **ids, "session": self.service.sealer.token_key(cookie)} if method != "GET" else None
        if data is not None and token is not None:
            data["csrf"] = token_in(self.client.get("/console/account").text) if token == "own" else token
        answer = self.client.request(method, filled(path, ids), data=data)
        return answer.status_code, answer.headers.get("location", "")


LOGINS = {Role.AGENT: "rivera", Role.COORDINATOR: "county", Role.VOLUNTEER: "walker", Role.TRANSLATOR: "words"}


def seat_all(service: Service) -> dict[Role, Person]:
    for role, login in LOGINS.items():
        if role != Role.VOLUNTEER:
            make_agent(service, login, "millrace", role=role)
    return {role: Person(service, login) for role, login in LOGINS.items()}


def test_every_route_has_a_row_and_every_row_a_route(service: Service) -> None:
    there, told = set(routes_of_app(service)), set(rows())
    assert there - told == set(), "routes without a row in who_may_what.TABLE"
    assert told - there == set(), "rows without a route"


def test_only_files_of_ours_are_served_beside_the_routes(service: Service) -> None:
    mounts = {route.path for route in create_app(service).routes if isinstance(route, Mount)}
    assert mounts == {"/console/static", "/handset/static"}


def test_every_role_reaches_what_its_row_says_and_nothing_else(service: Service) -> None:
    ids, people = ids_of(service), seat_all(service)
    for method, path, who in guarded(service):
        for role, person in people.items():
            status, location = person.ask(method, path, ids)
            tried = (method, path, role.value, status, location)
            if role in WHO[who]:
                assert status in {200, 303, 409, 422}, tried
                ours = path.startswith(("/console/sign-out", "/console/account/sessions/end-all"))
                assert ours or location != "/console/sign-in", tried
            elif (method, path) == ("GET", "/console"):
                assert (status, location) == (303, home_of(role)), tried
            else:
                assert status == 404, tried


def test_nobody_gets_in_without_signing_in(service: Service, browser: TestClient) -> None:
    ids = ids_of(service)
    for method, path, _ in guarded(service):
        answer = browser.request(method, filled(path, ids))
        assert (answer.status_code, answer.headers["location"]) == (303, "/console/sign-in"), (method, path)


def test_a_form_without_its_token_changes_nothing(service: Service) -> None:
    ids, people = ids_of(service), seat_all(service)
    for method, path, who in guarded(service):
        if method == "GET":
            continue
        role = next(role for role in Role if role in WHO[who])
        for token in (None, "", "gu\u00e9ss"):
            assert people[role].ask(method, path, ids, token)[0] == 403, (path, token)


def test_another_office_and_another_volunteer_find_nothing_there(service: Service) -> None:
    ids = ids_of(service)
    make_agent(service, "holt", "upper")
    make_agent(service, "stroll", "millrace", role=Role.VOLUNTEER)
    strangers = {Role.AGENT: Person(service, "holt"), Role.VOLUNTEER: Person(service, "stroll")}
    for method, path, who in guarded(service):
        if "{" not in path or path.startswith("/console/policy/"):  # the policy is the whole county's
            continue
        for role, stranger in strangers.items():
            if role in WHO[who]:
                assert stranger.ask(method, path, ids)[0] == 404, (method, path, role)


def test_an_agent_never_sees_through_a_role_that_is_none(service: Service, browser: TestClient) -> None:
    ids = ids_of(service)
    make_agent(service, "rivera")
    person = Person(service, "rivera")
    with writing(service.engine) as session:
        agent = session.exec(select(Agent).where(Agent.login == "rivera")).one()
        agent.role, agent.office = "guest", None
        session.add(agent)
    assert person.ask("GET", "/console/households/{household}", ids)[0] == 404


@pytest.mark.parametrize("nonsense", ["0", "999", "abc", "-1", "99999999999999999999", "1%00"])
def test_an_id_that_is_none_is_not_found(service: Service, desk: Callable[..., Desk], nonsense: str) -> None:
    desk("rivera").see(f"/console/households/{nonsense}", 404)


def test_another_area_cannot_be_declared_flooded(service: Service, desk: Callable[..., Desk]) -> None:
    desk("holt", "upper").do("/console/flooded-again", 404, area="millrace", sure="1")
    with reading(service.engine) as session:
        assert session.exec(select(Household).where(Household.flooded_again_on.is_not(None))).all() == []  # type: ignore[union-attr]


def test_a_household_without_an_area_belongs_to_the_first_office(service: Service, desk: Callable[..., Desk]) -> None:
    home, _ = one_household(service, area=None)
    desk("rivera").see(f"/console/households/{home}")
    desk("holt", "upper").see(f"/console/households/{home}", 404)
    desk("chief", coordinator=True).see(f"/console/households/{home}")


def test_the_conversation_of_another_household_cannot_be_taken_over(
    service: Service, desk: Callable[..., Desk]
) -> None:
    mine, _ = one_household(service)
    other, _ = one_household(service, "+12025550124", "upper_larkwater")
    with reading(service.engine) as session:
        strange = session.exec(select(Conversation.id).where(Conversation.household_id == other)).one()
    desk("rivera").do(f"/console/households/{mine}/take-over", 404, conversation=str(strange))


def test_the_applications_own_description_is_not_served(service: Service, browser: TestClient) -> None:
    for address in ("/docs", "/redoc", "/openapi.json"):
        assert browser.get(address).status_code == 404
