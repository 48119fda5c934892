"""Statements run on the driver's cursor mean the same as through SQLAlchemy, on both databases."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from sqlalchemy import Connection, Engine, bindparam, select, text, update
from sqlalchemy.exc import IntegrityError

from guide_service.database import writing_on
from guide_service.records import Household, Tombstone, Verdict
from guide_service.records.prepared import Claim, Insert, Prepared, change

_house: Any = Household.__table__  # type: ignore[attr-defined]
_verdict: Any = Verdict.__table__  # type: ignore[attr-defined]
_tombstone: Any = Tombstone.__table__  # type: ignore[attr-defined]
NOON = dt.datetime(2027, 3, 15, 16, tzinfo=dt.UTC)
BY_ID = Prepared(select(_house).where(_house.c.id == bindparam("house")))
HOUSES, TOMBSTONES = Insert(_house), Insert(_tombstone)


class Moved(Exception):
    pass


CLAIM = Claim(
    update(_house).where(_house.c.id == bindparam("house"), _house.c.version == bindparam("seen")).values(version=9),
    Moved,
)
PLAIN = Household(id=1, facts={"meter": {"have": True}}, mould_open=True, created_at=NOON, updated_at=NOON).model_dump()


def test_rows_come_back_with_the_types_of_the_table(engine: Engine) -> None:
    with engine.begin() as connection:
        HOUSES.run(connection, PLAIN)
        found = BY_ID.first(connection, {"house": 1})
        through_sqlalchemy = connection.execute(select(_house)).one()
    assert found._asdict() == dict(through_sqlalchemy._mapping) == PLAIN


def test_several_rows_are_one_statement_and_what_a_row_leaves_out_is_null(engine: Engine) -> None:
    short = {name: value for name, value in PLAIN.items() if name != "address"}
    with engine.begin() as connection:
        HOUSES.run(connection, short | {"id": 2}, PLAIN | {"id": 3, "address": "4 Mill Lane"})
        assert [BY_ID.first(connection, {"house": n}).address for n in (2, 3)] == [None, "4 Mill Lane"]


def test_none_in_a_json_column_is_null(engine: Engine) -> None:
    with engine.begin() as connection:
        HOUSES.run(connection, PLAIN)
        row = Verdict(id=9, household_id=1, place="K1", band="wet", at=NOON).model_dump()
        Insert(_verdict).run(connection, row | {"forecast": None})
        assert connection.execute(text("select count(*) from verdict where forecast is null")).scalar() == 1


def test_some_columns_of_a_row_are_changed(engine: Engine) -> None:
    with engine.begin() as connection:
        HOUSES.run(connection, PLAIN)
        change(connection, _house, 1, {"area": "millrace", "facts": {"washed_on": "2027-03-01"}})
        change(connection, _house, 1, {})
        found = BY_ID.first(connection, {"house": 1})
    assert (found.area, found.facts, found.mould_open) == ("millrace", {"washed_on": "2027-03-01"}, True)


def test_a_key_that_is_there_is_an_integrity_error_that_shows_no_values(engine: Engine) -> None:
    row = {"sid_key": "a secret", "at": NOON}
    with engine.begin() as connection:
        TOMBSTONES.run(connection, row)
    with pytest.raises(IntegrityError) as problem, engine.begin() as connection:
        TOMBSTONES.run(connection, row)
    assert "[parameters" not in str(problem.value)


def test_a_value_that_is_missing_is_refused(engine: Engine) -> None:
    with engine.connect() as connection, pytest.raises(KeyError):
        BY_ID.first(connection, {})


def test_what_waits_is_there_for_the_next_statement_of_either_kind(engine: Engine) -> None:
    with engine.connect() as connection, writing_on(connection):
        HOUSES.run(connection, PLAIN)
        assert BY_ID.first(connection, {"house": 1}).area is None
        change(connection, _house, 1, {"area": "millrace"})
        assert connection.execute(select(_house.c.area)).scalar() == "millrace"


def test_what_waits_at_the_end_is_committed(engine: Engine) -> None:
    with engine.connect() as connection:
        with writing_on(connection):
            HOUSES.run(connection, PLAIN)
            change(connection, _house, 1, {"area": "millrace"})
        assert BY_ID.first(connection, {"house": 1}).area == "millrace"


def test_what_is_wrong_with_a_statement_that_waited_ends_its_transaction(engine: Engine) -> None:
    row = {"sid_key": "a secret", "at": NOON}

    def twice(connection: Connection) -> None:
        with writing_on(connection):
            for rows, values in ((HOUSES, PLAIN), (TOMBSTONES, row), (TOMBSTONES, row), (HOUSES, PLAIN | {"id": 2})):
                rows.run(connection, values)

    with engine.connect() as connection:
        with pytest.raises(IntegrityError):
            twice(connection)
        with writing_on(connection):
            assert BY_ID.first(connection, {"house": 1}) is None
            TOMBSTONES.run(connection, row)
        assert connection.execute(text("select count(*) from tombstone")).scalar() == 1


def test_a_claim_that_changes_its_row_lets_what_follows_happen(engine: Engine) -> None:
    with engine.connect() as connection:
        with writing_on(connection):
            HOUSES.run(connection, PLAIN)
            CLAIM.run(connection, {"house": 1, "seen": PLAIN["version"]})
            TOMBSTONES.run(connection, {"sid_key": "kept", "at": NOON})
        assert BY_ID.first(connection, {"house": 1}).version == 9
        assert connection.execute(text("select count(*) from tombstone")).scalar() == 1


@pytest.mark.parametrize("claimed", [{"house": 1, "seen": 5}, {"house": 2, "seen": 0}], ids=["moved", "gone"])
def test_a_claim_that_finds_no_such_row_undoes_all_of_its_transaction(engine: Engine, claimed: dict[str, int]) -> None:
    def claim(connection: Connection) -> None:
        with writing_on(connection):
            TOMBSTONES.run(connection, {"sid_key": "before", "at": NOON})
            CLAIM.run(connection, claimed)
            TOMBSTONES.run(connection, {"sid_key": "after", "at": NOON})

    with engine.connect() as connection:
        with writing_on(connection):
            HOUSES.run(connection, PLAIN)
        with pytest.raises(Moved):
            claim(connection)
        assert connection.execute(text("select count(*) from tombstone")).scalar() == 0
        assert BY_ID.first(connection, {"house": 1}).version == PLAIN["version"]
