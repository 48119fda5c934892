"""Databases for the tests, made by running the migrations; nothing but loopback can be reached.

``engine`` runs a test on SQLite and on PostgreSQL; ``sqlite_engine`` on SQLite alone; ``service`` wires everything on
``engine`` with a clock that stands still and a sender that only notes what it was asked to send.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
import os
import shutil
import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, text
from sqlmodel import SQLModel

import guide_service.records  # noqa: F401  (registers every table)
from guide_service.carrier.recording import RecordingSender
from guide_service.clock import FixedClock
from guide_service.database import make_engine
from guide_service.records.migrating import migrate
from guide_service.settings import read_settings
from guide_service.wiring import Service, build_service
from tests import postgres

_true_connect = socket.socket.connect
_true_connect_ex = socket.socket.connect_ex


class NetworkReached(AssertionError):
    """A test tried to leave the machine."""


def _only_loopback(connect: Callable[..., Any]) -> Callable[..., Any]:
    def guarded(self: socket.socket, address: Any) -> Any:
        if self.family in (socket.AF_INET, socket.AF_INET6):
            host = address[0]
            if host != "localhost" and not ipaddress.ip_address(host).is_loopback:
                self.close()  # whoever opened it may not expect this exception
                raise NetworkReached(f"tests reach nothing but loopback, not {host}")
        return connect(self, address)

    return guarded


@pytest.fixture(scope="session", autouse=True)
def loopback_only() -> Iterator[None]:
    patch = pytest.MonkeyPatch()
    patch.setattr(socket.socket, "connect", _only_loopback(_true_connect))
    patch.setattr(socket.socket, "connect_ex", _only_loopback(_true_connect_ex))
    yield
    patch.undo()


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("template") / "guide.db"
    engine = make_engine(f"sqlite:///{path}")
    migrate(engine)
    engine.dispose()
    return path


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    try:
        with postgres.server() as url:
            yield url
    except postgres.NoServer as reason:
        pytest.skip(str(reason))


@pytest.fixture(scope="session")
def postgres_engine(postgres_server: str) -> Iterator[Engine]:
    """One migrated database per test process; ``engine`` empties it before each test."""
    name = f"guide_test_{os.getpid()}"
    engine = make_engine(postgres.new_database(postgres_server, name))
    migrate(engine)
    yield engine
    engine.dispose()
    postgres.drop_database(postgres_server, name)


@pytest.fixture
def sqlite_engine(sqlite_template: Path, tmp_path: Path) -> Iterator[Engine]:
    path = tmp_path / "guide.db"
    shutil.copyfile(sqlite_template, path)
    engine = make_engine(f"sqlite:///{path}")
    yield engine
    engine.dispose()


def _empty(engine: Engine) -> None:
    # DELETE, not TRUNCATE: on tables of a few rows it is many times faster
    with engine.begin() as connection:
        connection.execute(
            text("; ".join(f'delete from "{t.name}"' for t in reversed(SQLModel.metadata.sorted_tables)))
        )


@pytest.fixture(params=["sqlite", "postgres"])
def engine(request: pytest.FixtureRequest) -> Engine:
    """An empty database with every table, on each of the two."""
    if request.param == "sqlite":
        made: Engine = request.getfixturevalue("sqlite_engine")
        return made
    made = request.getfixturevalue("postgres_engine")
    _empty(made)
    return made


MONDAY_NOON = dt.datetime(2027, 3, 15, 16, 0, tzinfo=dt.UTC)
"""12:00 in Larkwater County (summer time began the day before)."""


@pytest.fixture(scope="session")
def wired() -> Service:
    """Everything that costs time to read (flows, catalogues), once per process. The county offers one language."""
    settings = read_settings(demo=True, database_url="sqlite:///:memory:")
    both = build_service(settings, clock=FixedClock(MONDAY_NOON), sender=RecordingSender())
    return offering(both, "en")


def offering(service: Service, *languages: str) -> Service:
    """The same service for a county that offers these languages."""
    county = service.county.model_copy(update={"languages": languages})
    return service.with_county(county)


@pytest.fixture
def clock() -> FixedClock:
    return FixedClock(MONDAY_NOON)


@pytest.fixture
def sender() -> RecordingSender:
    return RecordingSender()


@pytest.fixture
def service(wired: Service, engine: Engine, clock: FixedClock, sender: RecordingSender) -> Service:
    """Larkwater County on each of the two databases, at noon of a Monday."""
    return wired.on(engine, clock=clock, sender=sender)
