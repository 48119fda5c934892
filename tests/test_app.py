"""The application as a whole: what it serves, whether it is ready, how it starts and stops."""

from __future__ import annotations

import datetime as dt
import logging
import threading
from dataclasses import replace
from functools import partial

import pytest
from fastapi.testclient import TestClient
from opentelemetry import _logs, metrics, trace
from sqlalchemy import Engine, text

from guide_service.app import create_app
from guide_service.database import make_engine, writing
from guide_service.readiness import WORKER_SEEN_WITHIN
from guide_service.records import WorkerSeen
from guide_service.wiring import Service


def readiness(service: Service) -> tuple[int, list[str]]:
    answer = TestClient(create_app(service)).get("/readyz")
    return answer.status_code, answer.json()["failing"]


def see_worker(service: Service, ago: dt.timedelta) -> None:
    with writing(service.engine) as session:
        session.add(WorkerSeen(worker="one", seen_at=dt.datetime.now(dt.UTC) - ago))


def test_alive_is_answered_without_a_database(service: Service) -> None:
    client = TestClient(create_app(replace(service, engine=make_engine("sqlite:////nowhere/at/all.db"))))
    assert client.get("/healthz").json() == {"status": "alive"}
    assert client.get("/readyz").json() == {"status": "not ready", "failing": ["database"]}


def test_ready_with_a_worker_that_was_seen_lately(service: Service) -> None:
    assert readiness(service) == (503, ["worker"])
    see_worker(service, dt.timedelta(seconds=5))
    assert readiness(service) == (200, [])


def test_a_worker_that_was_not_seen_for_a_minute_does_not_count(service: Service) -> None:
    see_worker(service, WORKER_SEEN_WITHIN + dt.timedelta(seconds=1))
    assert readiness(service) == (503, ["worker"])


def test_a_database_of_another_version_is_not_ready(service: Service, sqlite_engine: Engine) -> None:
    with writing(sqlite_engine) as session:
        session.execute(text("update alembic_version set version_num = '0000'"))
    assert readiness(replace(service, engine=sqlite_engine)) == (503, ["migrations"])


def test_the_worker_starts_and_stops_with_the_application(service: Service) -> None:
    running, stopped = threading.Event(), threading.Event()

    def work(_service: Service, stop: threading.Event) -> None:
        running.set()
        stop.wait(10)
        stopped.set()

    with TestClient(create_app(service, run_worker=work)):
        assert running.wait(5)
        assert not stopped.is_set()
    assert stopped.is_set()


def test_an_unsigned_webhook_is_refused(service: Service) -> None:
    answer = TestClient(create_app(service)).post("/carrier/sms", data={"MessageSid": "SM1", "From": "+12025550123"})
    assert answer.status_code == 403


def test_the_front_door_leads_to_the_agents(service: Service) -> None:
    answer = TestClient(create_app(service), follow_redirects=False).get("/")
    assert (answer.status_code, answer.headers["location"]) == (303, "/console")


def test_errors_are_pages_for_agents_and_json_for_programs(service: Service) -> None:
    client = TestClient(create_app(service))
    assert "Nothing is here" in client.get("/console/nowhere").text
    assert client.get("/nowhere").json() == {"detail": "Not Found"}


def test_no_number_is_logged(service: Service, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.DEBUG, logger="guide_service"):
        TestClient(create_app(service)).get("/handset/texts", params={"number": "+12025550123"})
    assert "2025550123" not in caplog.text


def test_nobody_is_told_of_requests(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever collects traces on this machine is not even asked."""
    asked: list[str] = []
    monkeypatch.setenv("FASTAPI_OTEL_AUTO_CONFIGURE", "true")
    monkeypatch.setenv("OTEL_EXPORTER_OTLP_ENDPOINT", "http://127.0.0.1:9")
    for module, name in (
        (trace, "get_tracer_provider"),
        (metrics, "get_meter_provider"),
        (_logs, "get_logger_provider"),
    ):
        monkeypatch.setattr(module, name, partial(asked.append, name))
    with TestClient(create_app(service)) as client:
        assert client.get("/healthz").status_code == 200
    assert asked == []
