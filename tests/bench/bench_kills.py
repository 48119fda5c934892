"""At least two hundred kills of web processes and workers in the middle of turns and sends, on both databases.

    python -m tests.bench.bench_kills

What is checked stands in ``tests/kill``: the days that were lived among kills must end like the same days undisturbed.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests import postgres
from tests.kill.episode import Episode, Outcome

KILLS_PER_DATABASE = 100
KILLS_PER_EPISODE, HOUSEHOLDS_PER_EPISODE = 55, 17
MOST_EPISODES = 6
NAMES = {"web": "a web process", "work": "a worker"}


def run(seed: int | None = None) -> list[dict[str, Any]]:
    seed = random.randrange(1_000_000) if seed is None else seed
    with tempfile.TemporaryDirectory() as home:
        outcomes = {"SQLite": list(_episodes(_sqlite(Path(home)), Path(home), seed))}
        try:
            with postgres.server() as server:
                outcomes["PostgreSQL"] = list(_episodes(_postgres(server), Path(home), seed))
        except postgres.NoServer as reason:
            outcomes["PostgreSQL"] = [Outcome(problems=[str(reason)])]
    every = [outcome for found in outcomes.values() for outcome in found]
    for outcome in every:
        for problem in outcome.problems:
            print(f"kills (seed {seed}): {problem}")
    return [*_rows_of_kills(every), *(row for name, found in outcomes.items() for row in _rows(name, found))]


def _episodes(urls: Iterator[str], home: Path, seed: int) -> Iterator[Outcome]:
    killed = 0
    for number in range(MOST_EPISODES):
        if killed >= KILLS_PER_DATABASE:
            return
        url, room = next(urls), Path(tempfile.mkdtemp(dir=home))
        more = {"households": HOUSEHOLDS_PER_EPISODE, "kills": KILLS_PER_EPISODE, "seed": seed + number}
        outcome = Episode(url, room, **more).run()
        killed += sum(outcome.kills.values())
        yield outcome


def _sqlite(home: Path) -> Iterator[str]:
    for number in range(MOST_EPISODES):
        yield f"sqlite:///{home / f'killed{number}.db'}"


def _postgres(server: str) -> Iterator[str]:
    for number in range(MOST_EPISODES):
        yield postgres.new_database(server, f"guide_killed_{number}")


def _rows_of_kills(outcomes: list[Outcome]) -> list[dict[str, Any]]:
    total = sum(sum(outcome.kills.values()) for outcome in outcomes)
    rows = [_row("kills: all", total, ">= 200", total >= 200)]
    for role, name in NAMES.items():
        count = sum(outcome.kills.get(role, 0) for outcome in outcomes)
        rows.append(_row(f"kills: of {name}", count, "> 0", count > 0))
    return rows


def _rows(name: str, outcomes: list[Outcome]) -> list[dict[str, Any]]:
    problems = sum(len(outcome.problems) for outcome in outcomes)
    texts, sends = sum(outcome.texts for outcome in outcomes), sum(outcome.sends for outcome in outcomes)
    doubled = sum(outcome.doubled_unavoidably for outcome in outcomes)
    return [
        _row(f"kills, {name}: lost, doubled or different", problems, "0", problems == 0),
        _row(f"kills, {name}: texts taken in", texts, "> 0", texts > 0),
        _row(f"kills, {name}: texts sent", sends, "> 0", sends > 0),
        _row(f"kills, {name}: sent twice where the carrier hid the first", doubled, "told", True),
    ]


def _row(name: str, value: object, target: str, holds: bool) -> dict[str, Any]:
    return {"name": name, "value": value, "target": target, "holds": holds}


if __name__ == "__main__":
    for row in run():
        print(f"{row['name']:<62} {row['value']!s:>6}  target {row['target']:<8} {row['holds']}")
