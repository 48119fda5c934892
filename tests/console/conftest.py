"""A browser without a screen on the agents' pages: cookies, forms with their token, redirects not followed."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pytest
from argon2 import PasswordHasher
from fastapi.testclient import TestClient
from sqlmodel import select

from guide_service.app import create_app
from guide_service.console import passwords
from guide_service.console.roles import Role
from guide_service.console.sign_in import open_session
from guide_service.database import reading, writing
from guide_service.records import Agent, Audit
from guide_service.wiring import Service
from tests.console.rows import make_agent


@pytest.fixture
def browser(service: Service) -> TestClient:
    return TestClient(create_app(service), follow_redirects=False)


class Desk:
    """One agent at the pages."""

    def __init__(self, service: Service, login: str) -> None:
        self.service = service
        self.client = TestClient(create_app(service), follow_redirects=False)
        with writing(service.engine) as session:
            self.agent = session.exec(select(Agent).where(Agent.login == login)).one()
            self.client.cookies.set("guide_agent", open_session(session, service, self.agent))

    def see(self, address: str, status: int = 200) -> str:
        """The page, without the marks around names that only bidirectional text needs (``test_right_to_left``)."""
        answer = self.client.get(address)
        assert answer.status_code == status, answer.text
        return re.sub(r"</?bdi>", "", answer.text)

    def csrf(self) -> str:
        return token_in(self.see("/console"))

    def do(self, address: str, status: int = 303, **fields: str) -> str:
        """Posts a form as a page of ours would; where it leads, or the page."""
        answer = self.client.post(address, data={"csrf": self.csrf(), **fields})
        assert answer.status_code == status, answer.text
        return answer.headers.get("location", re.sub(r"</?bdi>", "", answer.text))


def token_in(page: str) -> str:
    found = re.search(r'name="csrf" value="([^"]+)"', page)
    assert found, page
    return found[1]


@pytest.fixture
def desk(service: Service) -> Callable[..., Desk]:
    """Seats an agent: ``desk("rivera")`` of Millrace, ``desk("holt", "upper")``, a coordinator, or another role."""

    def seat(
        login: str, office: str | None = "millrace", *, coordinator: bool = False, role: Role = Role.AGENT
    ) -> Desk:
        make_agent(service, login, office, coordinator=coordinator, role=role)
        return Desk(service, login)

    return seat


def audited(service: Service) -> list[str]:
    with reading(service.engine) as session:
        return [row.action for row in session.exec(select(Audit).order_by(Audit.id))]


@pytest.fixture(scope="session", autouse=True)
def quick_passwords() -> Iterator[None]:
    """The tests of what agents do need no slow hash; how slow it is stands in ``test_passwords``."""
    patch = pytest.MonkeyPatch()
    patch.setattr(passwords, "_hasher", PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    yield
    patch.undo()
