"""A short sample of what ``python -m tests.bench.bench_kills`` does at length: killed processes lose nothing."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests import postgres
from tests.kill.episode import Episode, Outcome

HOUSEHOLDS, KILLS = 3, 6
pytestmark = pytest.mark.kill


def held(outcome: Outcome) -> None:
    assert outcome.problems == []
    assert outcome.texts > 30
    assert outcome.sends > 3
    assert outcome.kills["web"] > 0
    assert sum(outcome.kills.values()) >= KILLS // 2


def test_killed_processes_lose_and_double_nothing_on_sqlite(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'killed.db'}"
    held(Episode(url, tmp_path, households=HOUSEHOLDS, kills=KILLS, seed=os.getpid()).run())


def test_killed_processes_lose_and_double_nothing_on_postgres(tmp_path: Path, postgres_server: str) -> None:
    name = f"guide_kill_{os.getpid()}"
    url = postgres.new_database(postgres_server, name)
    held(Episode(url, tmp_path, households=HOUSEHOLDS, kills=KILLS, seed=os.getpid()).run())
    postgres.drop_database(postgres_server, name)
