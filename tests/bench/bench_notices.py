"""A notice to 10,000 phones: how long the list takes, what a turn waits meanwhile, what a stop midway lets out, and the
whole of it sent over an evening and a morning.

The number's rate is set so high that the database is what is measured; nothing is sent to anybody.
"""

from __future__ import annotations

import statistics
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

from guide_service.carrier.form import InboundText
from guide_service.carrier.recording import RecordingSender
from guide_service.clock import FixedClock
from guide_service.database import reading
from guide_service.followup.worker import Worker
from guide_service.notices import deciding
from guide_service.notices.progress import progress
from guide_service.records.migrating import migrate
from guide_service.settings import read_settings
from guide_service.turn import take_turn
from guide_service.wiring import Service, build_service
from tests.bench.notice_in_full import in_full
from tests.conftest import MONDAY_NOON
from tests.notices.crowd import add_homes, decide, draft, start, stored

PHONES = 10_000
SENT = 600
"""Jobs that are done before the notice is stopped: what each takes does not hang on how many are left."""
TURNS = 60
AFTER = 100
"""Looks of the worker after the stop: one after the other, it has no text in hand when the notice is stopped."""


def run() -> list[dict[str, Any]]:
    with tempfile.TemporaryDirectory() as folder:
        service = _service(Path(folder))
        add_homes(service, PHONES)
        alone = _turns(service, "a")
        notice = draft(service)
        start(service, notice)
        stop, times = threading.Event(), dict[str, float]()
        worker = threading.Thread(target=_work, args=(service, notice, stop, times))
        worker.start()
        beside = _turns(service, "b")
        worker.join()
        with reading(service.engine) as session:
            before = time.perf_counter()
            counts = progress(session, stored(service, notice), service.county.hours, service.clock.now())
            counted = time.perf_counter() - before
    rows: list[dict[str, Any]] = [
        {"name": "notice: rows of 10,000 phones made [s]", "value": round(times["listed"], 2)},
        {"name": "notice: jobs done a second", "value": round(SENT / times["sending"])},
        {"name": "notice: stopped [s]", "value": round(times["stopping"], 2)},
        {
            "name": "notice: rows after stopping, of 10,000",
            "value": sum(counts.values()),
            "target": PHONES,
            "holds": sum(counts.values()) == PHONES and counts["queued"] == 0,
        },
        {
            "name": "notice: texts out after it was stopped",
            "value": times["after"],
            "target": 0,
            "holds": times["after"] == 0,
        },
        {"name": "notice: progress counted [ms]", "value": round(counted * 1_000, 1)},
        {"name": "turn alone, median [ms]", "value": round(statistics.median(alone) * 1_000, 1)},
        {"name": "turn beside a notice, median [ms]", "value": round(statistics.median(beside) * 1_000, 1)},
        {"name": "turn beside a notice, longest [ms]", "value": round(max(beside) * 1_000, 1)},
    ]
    with tempfile.TemporaryDirectory() as folder:
        whole = in_full(_service(Path(folder)), PHONES)
    return [{"target": None, "holds": None, **row} for row in rows] + whole


def _service(folder: Path) -> Service:
    settings = read_settings(demo=True, database_url=f"sqlite:///{folder}/notices.db")
    service = build_service(settings, clock=FixedClock(MONDAY_NOON), sender=RecordingSender())
    migrate(service.engine)
    hours = service.county.hours.model_copy(update={"segments_per_second": 100_000.0})
    return service.with_county(service.county.model_copy(update={"hours": hours}))


def _work(service: Service, notice: int, stop: threading.Event, times: dict[str, float]) -> None:
    worker, began = Worker(service, "bench", stop), time.perf_counter()
    while stored(service, notice).listed_at is None:
        worker.work_once()
    times["listed"] = time.perf_counter() - began
    began, jobs = time.perf_counter(), 0
    while jobs < SENT:
        jobs += worker.work_once()
        service.clock.advance(seconds=0.1)  # type: ignore[attr-defined]
    times["sending"] = time.perf_counter() - began
    began = time.perf_counter()
    decide(service, notice, deciding.stop)
    times["stopping"] = time.perf_counter() - began
    out = len(service.sender.sent)  # type: ignore[attr-defined]
    for _ in range(AFTER):
        worker.work_once()
        service.clock.advance(seconds=1)  # type: ignore[attr-defined]
    times["after"] = len(service.sender.sent) - out  # type: ignore[attr-defined]


def _turns(service: Service, series: str) -> list[float]:
    took = []
    for number in range(TURNS):
        text = InboundText(f"SM{series}{number:031d}", "AC1", "+12025550123", "+12025550100", "help")
        before = time.perf_counter()
        take_turn(service, text)
        took.append(time.perf_counter() - before)
        time.sleep(0.05)
    return took
