"""Every route of the agents' pages, tried by nobody, by a form without its token, and by another office's agent.

The list of routes is the application's own, so that a new one cannot be forgotten.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient
from sqlmodel import select

from guide_service.app import create_app
from guide_service.database import reading, writing
from guide_service.notices import deciding
from guide_service.notices.choice import Choice
from guide_service.records import Conversation, Household, MouldReport, PlaceRow
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import one_household

FOR_STRANGERS = {"/console/sign-in"}
FIELDS = {"outcome": "called", "text": "hello", "area": "millrace", "sure": "1"}


def console_routes(service: Service) -> list[tuple[str, str]]:
    found = [
        (method, each.path)
        for each in iter_route_contexts(create_app(service).routes)
        for method in each.methods or ()
        if each.path.startswith("/console")
    ]
    assert len(found) > 12
    return sorted(found)


def addresses(service: Service) -> dict[str, str]:
    """One household's ids, by the name that they have in the routes."""
    home, escalation = one_household(service, area="millrace")
    with reading(service.engine) as session:
        place = session.exec(select(PlaceRow.id)).first()
        report = session.exec(select(MouldReport.id)).first()
    with writing(service.engine) as session:
        choice = Choice(areas=("millrace",))
        notice = deciding.write(session, service, 1, "millrace", "Saturday", choice, None, {"en": "Open on Saturday."})
    return {
        "notice": str(notice.id),
        "household": str(home),
        "escalation": str(escalation),
        "place": str(place),
        "report": str(report),
    }


def filled(path: str, ids: dict[str, str]) -> str:
    return path.format(**ids)


def test_nobody_gets_in_without_signing_in(service: Service, browser: TestClient) -> None:
    ids = addresses(service)
    for method, path in console_routes(service):
        if path in FOR_STRANGERS:
            continue
        answer = browser.request(method, filled(path, ids))
        assert (answer.status_code, answer.headers["location"]) == (303, "/console/sign-in"), (method, path)


def test_a_form_without_its_token_changes_nothing(service: Service, desk: Callable[..., Desk]) -> None:
    ids, seat = addresses(service), desk("rivera")
    for method, path in console_routes(service):
        if method != "POST" or path in FOR_STRANGERS:
            continue
        for token in ({}, {"csrf": ""}, {"csrf": "gu\u00e9ss"}):
            answer = seat.client.post(filled(path, ids), data={**FIELDS, **token})
            assert answer.status_code == 403, path
            assert "text/html" in answer.headers["content-type"]


def test_another_office_finds_nothing_there(service: Service, desk: Callable[..., Desk]) -> None:
    ids = addresses(service)
    seat = desk("holt", "upper")
    token = seat.csrf()
    for method, path in console_routes(service):
        if "{" not in path:
            continue
        answer = seat.client.request(
            method, filled(path, ids), data={"csrf": token, **FIELDS} if method == "POST" else None
        )
        assert answer.status_code == 404, (method, path)


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
