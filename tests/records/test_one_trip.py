"""Statements that go to PostgreSQL together: values come back as they went, and what goes wrong leaves nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import psycopg
import pytest
from psycopg.pq import PipelineStatus, TransactionStatus
from psycopg.types.json import Jsonb
from sqlalchemy import Engine

from guide_service.records.one_trip import Refused, Trips

MAKE = ("create temporary table kept (id int primary key, words text, share float, at timestamptz, facts jsonb)", ())
PUT = "insert into kept values ($1, $2, $3, $4, $5)"
READ = "select words, share, at, facts from kept where id = $1"
COUNT = ("select count(*) from kept", ())
NOON = dt.datetime(2027, 3, 15, 16, tzinfo=dt.UTC)
LONG = "wet " * 500_000


class Counting(psycopg.Connection[Any]):
    """Counts how often it waits for the server."""

    waits = 0

    def wait(self, gen: Any, *how: Any, **more: Any) -> Any:
        self.waits += 1
        return super().wait(gen, *how, **more)


@pytest.fixture
def driver(postgres_engine: Engine) -> Iterator[Counting]:
    url = postgres_engine.url.set(drivername="postgresql").render_as_string(hide_password=False)
    connection = Counting.connect(url, prepare_threshold=None)
    yield connection
    connection.close()


@pytest.fixture
def trips(driver: Counting) -> Trips:
    made = Trips(driver)
    made.make([MAKE], commit=True)
    return made


def put(number: int, words: str | None = None) -> tuple[str, tuple[Any, ...]]:
    return PUT, (number, words, None, None, None)


def test_all_of_it_is_one_wait(driver: Counting, trips: Trips) -> None:
    driver.waits = 0
    answered = trips.make([put(1), put(2), put(3), COUNT], commit=True)
    assert driver.waits == 1
    assert answered.fetchall() == [(3,)]
    assert driver.info.transaction_status == TransactionStatus.IDLE


def test_values_come_back_as_they_went(trips: Trips) -> None:
    row = ("d'lo – ẩm – 潮湿 – \\ \"", 0.1, NOON, {"wall": ["K1", None, True, 21.5]})
    trips.make([(PUT, (1, *row[:3], Jsonb(row[3]))), (PUT, (-2_000_000_000, *[None] * 4))])
    assert trips.make([(READ, (1,))]).fetchall() == [row]
    assert trips.make([(READ, (-2_000_000_000,))]).fetchall() == [(None,) * 4]
    assert trips.make([(READ, (5,))]).fetchall() == []


def test_it_says_how_many_rows_were_changed(trips: Trips) -> None:
    trips.make([put(1), put(2)])
    assert trips.make([("update kept set words = $1", ("dry",))]).rowcount == 2
    assert trips.make([("update kept set words = $1 where id = $2", ("dry", 9))]).rowcount == 0


def test_more_than_a_socket_holds_goes_both_ways(trips: Trips) -> None:
    every = "insert into kept (id, words) values ($1, $2) returning words"
    sent: list[tuple[str, tuple[Any, ...]]] = [(every, (number, LONG)) for number in range(8)]
    assert trips.make(sent).fetchall() == [(LONG,)]
    assert trips.make([("select sum(length(words)) from kept", ())]).fetchall() == [(8 * len(LONG),)]


def test_what_was_wrong_is_named_and_nothing_that_follows_is_done(driver: Counting, trips: Trips) -> None:
    trips.make([put(1)], commit=True)
    with pytest.raises(Refused) as refused:
        trips.make([put(2), put(1), ("delete from kept", ())], commit=True)
    assert (refused.value.at, type(refused.value.trouble)) == (1, psycopg.errors.UniqueViolation)
    assert driver.info.transaction_status == TransactionStatus.INERROR
    assert driver.pgconn.pipeline_status == PipelineStatus.OFF
    driver.rollback()
    assert trips.make([COUNT]).fetchall() == [(1,)]


def test_what_a_refused_trip_had_not_prepared_is_prepared_by_the_next(driver: Counting, trips: Trips) -> None:
    never = ("select no_such_column from kept", ())
    with pytest.raises(Refused) as refused:
        trips.make([put(1), never, COUNT])
    assert (refused.value.at, type(refused.value.trouble)) == (1, psycopg.errors.UndefinedColumn)
    driver.rollback()
    assert trips.make([put(1), COUNT]).fetchall() == [(1,)]


def test_a_value_that_cannot_be_written_sends_nothing(driver: Counting, trips: Trips) -> None:
    driver.waits = 0
    with pytest.raises(psycopg.DataError):
        trips.make([put(1), put(2, "a \x00 in it")])
    assert driver.waits == 0
    assert trips.make([COUNT]).fetchall() == [(0,)]


def test_a_commit_that_fails_is_a_refusal(driver: Counting, trips: Trips) -> None:
    later = "alter table kept add constraint once unique (words) deferrable initially deferred"
    trips.make([(later, ())], commit=True)
    with pytest.raises(Refused):
        trips.make([put(1, "K1"), put(2, "K1")], commit=True)
    assert driver.info.transaction_status == TransactionStatus.IDLE
    assert trips.make([COUNT]).fetchall() == [(0,)]


def test_a_table_that_is_changed_is_read_anew_after_one_refusal(driver: Counting, trips: Trips) -> None:
    every = ("select * from kept", ())
    trips.make([every], commit=True)
    driver.execute("alter table kept drop column share")
    driver.commit()
    with pytest.raises(Refused):
        trips.make([every])
    driver.rollback()
    assert trips.make([every]).fetchall() == []


def test_a_line_that_is_cut_is_told_and_closed(postgres_engine: Engine, driver: Counting, trips: Trips) -> None:
    with postgres_engine.connect() as other:
        other.exec_driver_sql(f"select pg_terminate_backend({driver.info.backend_pid}, 5000)")
    with pytest.raises((psycopg.OperationalError, Refused)):
        trips.make([COUNT])
    assert driver.closed
