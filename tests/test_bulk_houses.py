"""Households of the benchmarks are what turns make: each row of a copy beside the row of one that lived itself."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, func, select

from guide_service.clock import FixedClock
from guide_service.records import Household
from guide_service.wiring import Service
from tests.bench import county_houses, houses
from tests.bench.serving import own_service
from tests.conftest import MONDAY_NOON


@pytest.fixture
def alone(wired: Service, sqlite_engine: Engine) -> Service:
    return wired.on(sqlite_engine, clock=FixedClock(MONDAY_NOON))


def told(model: houses.Model) -> list[tuple[str, dict[str, Any]]]:
    """The rows without what must differ: ids, hashes, seals, the number, real time."""
    return [
        (table.name, {name: same(value) for name, value in row.items() if name not in OWN}) for table, row in model.rows
    ]


OWN = {"phone_key", "phone_sealed", "last_digits", "carrier_sid", "key", "payload", "lease_until", "key_id"}


def same(value: Any) -> Any:
    if isinstance(value, int) and not isinstance(value, bool) and value > 1 << 50:
        return "id"
    if isinstance(value, str):
        return houses._AN_ID.sub("id", value)
    if isinstance(value, dict):
        return {name: same(part) for name, part in value.items()}
    return [same(part) for part in value] if isinstance(value, list) else value


@pytest.mark.parametrize("kind", county_houses.LATELY)
def test_a_copy_has_the_rows_that_turns_make(alone: Service, kind: str) -> None:
    houses.store_copies(alone, [county_houses.lived(alone, kind)], 1)
    copy = houses.read_model(alone, houses.number_of(0), county_houses.TEXTS)
    itself = county_houses.lived(alone, kind)
    assert told(copy) == told(itself)
    assert dt.date(2027, 3, 8) in [row["taken_on"] for table, row in copy.rows if table.name == "visit"]
    reasons = {row["reason"] for table, row in copy.rows if table.name == "escalation"}
    assert {"asks": "person", "mould": "mould"}.get(kind) in reasons | {None}


def test_the_households_of_the_load_stand_in_a_service_as_it_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(houses, "TALKING", 20)
    with own_service(f"sqlite:///{tmp_path / 'load.db'}") as service:
        houses.store_houses(service, 20)
        houses.multiply(service.engine, 3)
        with service.engine.connect() as connection:
            assert connection.execute(select(func.count()).select_from(Household)).scalar_one() == 60
