"""Full turns a second through the real HTTP stack, beside what HTTP alone and one stored row cost; both databases.

The service runs as in service (one process, uvloop, httptools, not the demo), the reference routes in another process
with the same durability settings; the load comes from a third, on 16 connections, spread over 1,000 households that are
in the middle of a check. Loads of the two take turns, so that whatever else the machine does meets both.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from statistics import median
from typing import Any

from rich.console import Console
from rich.table import Table

from guide_service.wiring import Service
from tests.bench import houses
from tests.bench.load import Order, Result
from tests.bench.serving import Burst, Place, own_service, places, reference_at, service_at
from tests.bench.turn_profile import stages

PAIRS, SECONDS = 5, 3.0
STORED_PAIRS, STORED_SECONDS, TIMES_STORED = 5, 2.0, 100
LEAST_SHARE = {"SQLite": 0.6, "PostgreSQL": 0.45}
MOST_GROWTH = 1.2
Row = dict[str, Any]


def run() -> list[Row]:
    with places() as found:
        rows = [row for place in found for row in _measured(place)]
        if len(found) < len(LEAST_SHARE):
            rows.append(_row("turns on PostgreSQL", "no server", f">= {LEAST_SHARE['PostgreSQL']} x one insert", None))
        return rows


def _measured(place: Place) -> list[Row]:
    some, many = place.new("some"), place.new("many")
    with own_service(some) as service:
        houses.store_houses(service)
    rows = _against_one_insert(place, some)
    with own_service(many) as service:
        houses.store_houses(service)
        houses.multiply(service.engine, TIMES_STORED)
    with own_service(place.new("few")) as service:
        houses.store_houses(service)
        rows.append(_against_many(place, str(service.settings.database), many))
    with own_service(place.new("profile")) as service:
        houses.store_houses(service)
        _show_profile(place, service, rows)
    return rows


def _against_one_insert(place: Place, database: str) -> list[Row]:
    theirs = place.new("reference").replace("postgresql:", "postgresql+psycopg:")
    with service_at(database) as service, reference_at(theirs) as reference:
        ours, one = _burst(service, "turn"), _burst(reference, "one")
        echo = _burst(replace(reference, path="/echo"), "echo").load(SECONDS)
        loads = _in_turns(ours, one, PAIRS, SECONDS)
    turns, inserts = _rate(*(mine for mine, _ in loads)), _rate(*(other for _, other in loads))
    share = median(_rate(mine) / _rate(other) for mine, other in loads)
    least = LEAST_SHARE[place.kind]
    slowest, allowed = _quantile(0.99, *(mine for mine, _ in loads)), _quantile(0.99, *(other for _, other in loads))
    on = f"on {place.kind}"
    return [
        _row(f"turns a second {on}", round(turns), "-", None),
        _row(f"one-insert route, a second {on}", round(inserts), "-", None),
        _row(f"echo route, a second {on}", round(_rate(echo)), "-", None),
        _row(f"turns against one-insert route {on}", round(share, 3), f">= {least}", share >= least),
        _row(f"p50 of a turn at 16 connections {on} [ms]", round(_quantile(0.5, *(a for a, _ in loads)), 1), "-", None),
        _row(f"p99 of a turn at 16 connections {on} [ms]", round(slowest, 1), f"<= {allowed:.1f}", slowest <= allowed),
    ]


def _against_many(place: Place, few: str, many: str) -> Row:
    """Both hold the thousand households that text; one holds a hundred times as many others."""
    with service_at(few) as small, service_at(many) as large:
        loads = _in_turns(_burst(small, "few"), _burst(large, "many"), STORED_PAIRS, STORED_SECONDS)
    growth = median(_rate(mine) / _rate(other) for mine, other in loads)
    less, more = f"{houses.TALKING:,}", f"{houses.TALKING * TIMES_STORED:,}"
    name = f"cost of a turn with {more} households against {less} on {place.kind}"
    return _row(name, round(growth, 3), f"<= {MOST_GROWTH}", growth <= MOST_GROWTH)


def _show_profile(place: Place, service: Service, rows: list[Row]) -> None:
    """Printed only: the parts of ``take_turn`` alone, then what HTTP, form, signature and the thread add."""
    parts = stages(service)
    table = Table("part of a turn", "microseconds", box=None, pad_edge=False, title=f"{place.kind}, one turn at a time")
    for name, microseconds in parts.items():
        table.add_row(name, f"{microseconds:.0f}")
    with service_at(service.settings.database) as order:
        alone = _burst(replace(order, connections=1), "alone").load(1.0)
    whole = alone.seconds / alone.answers * 1e6
    table.add_row("HTTP, form, signature, thread", f"{whole - sum(parts.values()):.0f}")
    table.add_row("all, at one connection", f"{whole:.0f}")
    Console(width=100).print(table)


def _in_turns(first: Burst, second: Burst, pairs: int, seconds: float) -> list[tuple[Result, Result]]:
    for burst in (first, second):
        burst.load(1.0)  # caches and prepared statements
    return [(first.load(seconds), second.load(seconds)) for _ in range(pairs)]


def _burst(order: Order, run: str) -> Burst:
    return Burst(replace(order, talks=[houses.talk_of(house) for house in range(houses.TALKING)]), run)


def _rate(*loads: Result) -> float:
    return sum(load.answers for load in loads) / sum(load.seconds for load in loads)


def _quantile(part: float, *loads: Result) -> float:
    """Milliseconds within which this part of all answers came."""
    counts: Counter[int] = Counter()
    for load in loads:
        counts.update({int(tenths): count for tenths, count in load.slowness.items()})
    left = part * counts.total()
    for tenths in sorted(counts):
        left -= counts[tenths]
        if left <= 0:
            return tenths / 10
    return 0.0


def _row(name: str, value: object, target: str, holds: bool | None) -> Row:
    return {"name": name, "value": value, "target": target, "holds": holds}
