"""The practice phone on a whole application, whose own webhooks it reaches without a network."""

from __future__ import annotations

from collections.abc import Iterator

import httpx2
import pytest
from fastapi.testclient import TestClient
from sqlalchemy import Engine

from guide_service.app import create_app
from guide_service.clock import DatabaseClock
from guide_service.handset.loopback import LoopbackSender
from guide_service.wiring import Service

NUMBER = "+12025550123"


@pytest.fixture
def demo(wired: Service, sqlite_engine: Engine) -> Iterator[Service]:
    clock = DatabaseClock(sqlite_engine)
    sender = LoopbackSender(sqlite_engine, clock, wired.settings)
    yield wired.on(sqlite_engine, clock=clock, sender=sender)
    sender.close()


@pytest.fixture
def phone(demo: Service) -> TestClient:
    """The page's addresses; what they post to the carrier's webhooks lands in the same application."""
    app = create_app(demo)
    inside = TestClient(app, base_url=demo.settings.address)
    app.state.carrier_side.http = inside
    assert isinstance(inside, httpx2.Client)
    return TestClient(app)
