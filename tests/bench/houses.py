"""Households in bulk: a few are set up through real turns, the others are copies of their rows with ids of their own.

Copies are checked: what a turn looks up for a copy is what it looks up for the model, but for the ids.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from sqlalchemy import BigInteger, Engine, String, Table, cast, func, insert, join, literal, select, true
from sqlmodel import SQLModel

import guide_service.records  # noqa: F401  (registers every table)
from guide_service.carrier.form import InboundText
from guide_service.clock import SystemClock
from guide_service.database import make_engine, writing
from guide_service.records.loading import Known, load_by_phone
from guide_service.records.migrating import migrate
from guide_service.turn import take_turn
from guide_service.wiring import Service

ANSWERS = {
    "welcome.address": "SKIP", "home.menu": "PLACES", "places.room": "kitchen", "places.bays": "6",
    "places.which": "1 2", "places.treated": "2", "places.more": "2", "places.reference": "2", "meter.whose": "SKIP",
    "home.rest": "check", "check.washed": "2",
}  # fmt: skip
"""What is answered in a state during the set-up, "1" in all others: places K1 and K2, a meter with pins."""
MOST_ANSWERS = 40
TALKS = (
    ("check.point", ("K1 {a} 19 17", "K2 {b} 18 16")),
    ("check.setting", ("1", "1", "K1 {a} 19 17", "K2 {b} 18 16")),
)
"""Two kinds of households: (state in which the load meets them, texts of the load that come before ``THEN``)."""
THEN = (
    "how are we doing", "K1 {b} 19 16", "K2 {a} 18 16", "HELLO", "1", "K1 {a} 18 16, K2 {b} 17 15", "check",
    "K2 {b} 17 15", "thanks", "K1 {a} 18 15", "k2 {b} 17 15", "why", "K1 {b} 17 15",
)  # fmt: skip
"""Mostly readings, some short answers; said over and over."""
TIMES_THEN = 5
TALKING = 1_000
SMALL_STEP = 1 << 37
"""Between the ids of two copies: more than the set-up of one household spans (half a minute)."""
STEP = 128 * SMALL_STEP
NEWEST_TEXTS = 6
"""Of the set-up's own texts so many are copied; retention has taken the older ones."""
ROWS_AT_ONCE = 2_000
_AN_ID = re.compile(r"\d{18,19}")


@dataclass(frozen=True, slots=True)
class Model:
    """The rows of one household that was set up by turns."""

    number: str
    rows: list[tuple[Table, dict[str, Any]]]
    ids: frozenset[int]
    known: Known


def number_of(house: int) -> str:
    """Fictional numbers, a hundred in each area code."""
    return f"+1{_AREA_CODES[house // 100]}55501{house % 100:02d}"


_AREA_CODES = [code for code in range(201, 990) if code % 100 != 11 and code // 10 % 10 != 9]


def talk_of(house: int) -> tuple[str, list[str]]:
    """What a phone sends during the load."""
    numbers = {"a": 20 + house % 5, "b": 19 + house % 4}
    texts = [*TALKS[house % len(TALKS)][1], *(THEN * TIMES_THEN)]
    return number_of(house), [text.format(**numbers) for text in texts]


def store_houses(service: Service, how_many: int = TALKING) -> None:
    """Households with numbers of their own in the service's empty database."""
    models = [_model(service, house) for house in range(len(TALKS))]
    store_copies(service, models, how_many)
    for house in range(0, how_many, how_many // 10):
        _check(service, models[house % len(models)], house)


def store_copies(service: Service, models: Sequence[Model], how_many: int = TALKING) -> None:
    """Households that are copies of these in turn."""
    for table in SQLModel.metadata.sorted_tables:
        rows = _copies(service, models, table, how_many)
        while some := list(islice(rows, ROWS_AT_ONCE)):
            with service.engine.begin() as connection:
                connection.execute(insert(table), some)
    _refresh_statistics(service.engine)


def multiply(engine: Engine, times: int) -> None:
    """Each stored household so many times, the copies between the others in the order of ids. They never text: what
    must be unique of them is made so, and what is only told of them stays as it was."""
    for table in SQLModel.metadata.sorted_tables:
        with engine.begin() as connection:
            before = connection.execute(select(func.count()).select_from(table)).scalar_one()
            if before and "id" in table.c:
                connection.execute(_many(table, times))
                after = connection.execute(select(func.count()).select_from(table)).scalar_one()
                assert after == before * times, f"{table.name}: {after} rows of {before}"
    _refresh_statistics(engine)


def _many(table: Table, times: int) -> Any:
    """INSERT ... SELECT of every row with every number from 1 below ``times``."""
    numbers = select(literal(1, BigInteger).label("n")).cte("numbers", recursive=True)
    numbers = numbers.union_all(select(numbers.c.n + 1).where(numbers.c.n < times - 1))
    unique = {"contact.phone_key": 56, "message.carrier_sid": 30, "job.key": 60}
    cells: list[Any] = []
    for column in table.c:
        if isinstance(column.type, BigInteger):
            cells.append(column - numbers.c.n * SMALL_STEP)
        elif str(column) in unique:
            cells.append(func.substr(column, 1, unique[str(column)]) + "x" + cast(numbers.c.n, String))
        else:
            cells.append(column)
    return insert(table).from_select(table.c.keys(), select(*cells).select_from(join(table, numbers, true())))


def _model(service: Service, house: int) -> Model:
    """Set up in a database of its own, by the turns that a person would take."""
    with tempfile.TemporaryDirectory(prefix="guide-house-") as home:
        engine = make_engine(f"sqlite:///{Path(home) / 'house.db'}")
        migrate(engine)
        alone = service.on(engine, clock=SystemClock())
        number = number_of(house)
        set_up(alone, number, until=TALKS[house][0])
        model = read_model(alone, number)
        engine.dispose()
    return model


def set_up(service: Service, number: str, until: str) -> None:
    text = "HELLO"
    for n in range(MOST_ANSWERS):
        answer = take_turn(
            service, InboundText(f"SMsetup{n}of{number[1:]}", "AC", number, service.settings.number, text)
        )
        assert answer.texts, f"no answer to {text!r} in the set-up"
        state = _looked_up(service, number).who.state
        if state == until:
            return
        text = ANSWERS.get(state) or ("PLACES" if state.startswith("order.") else "1")
    raise AssertionError(f"the set-up never came to {until}")


def _looked_up(service: Service, number: str) -> Known:
    with service.engine.connect() as connection:
        known = load_by_phone(connection, service.sealer.phone_key(number))
    assert known is not None
    return known


def read_model(service: Service, number: str, newest: int = NEWEST_TEXTS) -> Model:
    with service.engine.connect() as connection:
        rows = [
            (table, dict(row._mapping))
            for table in SQLModel.metadata.sorted_tables
            for row in connection.execute(select(table)).all()
        ]
    texts = sorted(row["id"] for table, row in rows if table.name == "message")[-newest:]
    rows = [(table, row) for table, row in rows if table.name != "message" or row["id"] in texts]
    ids = frozenset(row["id"] for _table, row in rows if isinstance(row.get("id"), int))
    return Model(number, rows, ids, _looked_up(service, number))


def _copies(service: Service, models: Sequence[Model], table: Table, how_many: int) -> Iterator[dict[str, Any]]:
    rows = [[row for owner, row in model.rows if owner is table] for model in models]
    for house in range(how_many):
        kind = house % len(models)
        for row in rows[kind]:
            yield _copy(service, row, models[kind].ids, house)


def _copy(service: Service, row: dict[str, Any], ids: frozenset[int], house: int) -> dict[str, Any]:
    address = number_of(house)
    copy = {name: _moved(value, ids, house * STEP) for name, value in row.items()}
    if "phone_key" in copy:
        copy["phone_key"] = service.sealer.phone_key(address)
    if "phone_sealed" in copy:
        copy["phone_sealed"], copy["key_id"] = service.sealer.seal(address)
        copy["last_digits"] = address[-4:]
    if copy.get("carrier_sid"):
        copy["carrier_sid"] = f"{copy['carrier_sid']}h{house}"
    return copy


def _moved(value: Any, ids: frozenset[int], by: int) -> Any:
    """The same value with the ids of the copy, wherever they stand."""
    if isinstance(value, int):
        return value - by if value in ids else value
    if isinstance(value, str):
        return _AN_ID.sub(lambda found: str(_moved(int(found[0]), ids, by)), value) if len(value) >= 18 else value
    if isinstance(value, dict):
        return {name: _moved(part, ids, by) for name, part in value.items()}
    return [_moved(part, ids, by) for part in value] if isinstance(value, list) else value


def _check(service: Service, model: Model, house: int) -> None:
    known = _looked_up(service, number_of(house))
    assert known.escalations == model.known.escalations
    for part in ("places", "visits", "readings"):
        assert [_told(row) for row in getattr(known, part)] == [_told(row) for row in getattr(model.known, part)]
    assert _told(known.who) == _told(model.known.who)


def _told(row: Any) -> dict[str, Any]:
    lists = ("escalations", "places", "visits", "readings")  # told of one by one
    county = ("policy_version",)  # stands beside each household and is none of it
    return {
        name: value for name, value in row._asdict().items() if not name.endswith("_id") and name not in lists + county
    }


def _refresh_statistics(engine: Engine) -> None:
    """What a database that has grown over months has done by itself."""
    with writing(engine) as session:
        session.connection().exec_driver_sql("analyze")
