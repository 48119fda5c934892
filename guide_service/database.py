"""The engine, the session and their pragmas. Nothing else opens a connection.

SQLite: WAL, ``BEGIN IMMEDIATE`` for every writing transaction (a deferred one loses updates or fails with "database is
locked"), and one in-process lock before it, so that threads of one process queue instead of polling the file lock.
PostgreSQL: READ COMMITTED; rows are guarded by versions, unique keys and row locks.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from typing import Any

from pydantic_core import from_json, to_json
from sqlalchemy import Connection, Engine, event
from sqlmodel import Session, create_engine

from guide_service.cooperating import CooperativeConnection
from guide_service.records.prepared import commit_together, driver_of, send_waiting, together

SQLITE_BUSY_MS = 10_000
MOST_OVERFLOW = 40
"""With the pool more than there are threads (40 of the web framework, a worker) and turns on the event loop at once: a
turn that had to wait for a connection would hold up the loop."""
_JSON: dict[str, Any] = {
    "json_serializer": lambda value: to_json(value).decode(),
    "json_deserializer": from_json,
}
"""A turn reads and writes a dozen small values: the standard library takes three times as long for them."""
_write_locks: dict[Any, threading.Lock] = {}


def make_engine(url: str, *, pool_size: int = 20) -> Engine:
    """An engine for SQLite or PostgreSQL; parameters never appear in its errors (they hold numbers and texts)."""
    if url.startswith("sqlite"):
        engine = create_engine(
            url, connect_args={"check_same_thread": False, "isolation_level": None}, hide_parameters=True, **_JSON
        )
        event.listen(engine, "connect", _sqlite_pragmas)
        event.listen(engine, "begin", _sqlite_begin)
        return engine
    if url.startswith("postgresql://"):
        url = url.replace("postgresql://", "postgresql+psycopg://", 1)
    engine = create_engine(url, pool_size=pool_size, max_overflow=MOST_OVERFLOW, hide_parameters=True, **_JSON)
    event.listen(engine, "do_connect", _cooperative)
    event.listen(engine, "before_cursor_execute", _after_what_waits)
    return engine


def _cooperative(_dialect: Any, _record: Any, given: Any, named: Any) -> Any:
    # what the driver prepares by itself it forgets with a rollback, and all that ``Trips`` has prepared with it
    return CooperativeConnection.connect(*given, prepare_threshold=None, **named)


def _after_what_waits(connection: Connection, *_statement: Any) -> None:
    send_waiting(connection)


def _sqlite_pragmas(connection: Any, _record: Any) -> None:
    connection.execute("pragma journal_mode=wal")
    connection.execute("pragma synchronous=normal")
    connection.execute("pragma foreign_keys=on")
    connection.execute(f"pragma busy_timeout={SQLITE_BUSY_MS}")


def _sqlite_begin(connection: Any) -> None:
    if connection.connection.driver_connection.in_transaction:  # begun by ``writing_on``
        return
    reading = connection.get_execution_options().get("read_only", False)
    connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")


@contextmanager
def writing(engine: Engine) -> Iterator[Session]:
    """One transaction that writes: committed at the end, rolled back on any exception."""
    with _one_writer(engine), Session(engine, expire_on_commit=False) as session, session.begin():
        yield session


@contextmanager
def writing_on(connection: Connection) -> Iterator[None]:
    """The same for somebody who has a connection, and has looked something up on it before.

    Begun and ended at the driver, which costs a fifth of what SQLAlchemy's own transaction does; that joins it when
    something is run through SQLAlchemy.
    """
    with _one_writer(connection.engine):
        if connection.dialect.name == "sqlite":
            driver_of(connection).execute("BEGIN IMMEDIATE")
        try:
            with together(connection):
                yield
                _commit(connection)
        except BaseException:
            _whoever_began(connection).rollback()
            raise


def _commit(connection: Connection) -> None:
    if connection.in_transaction():
        send_waiting(connection)
        connection.commit()
    else:
        commit_together(connection)


def _whoever_began(connection: Connection) -> Any:
    return connection if connection.in_transaction() else connection.connection


def _one_writer(engine: Engine) -> AbstractContextManager[Any]:
    if engine.dialect.name != "sqlite":
        return nullcontext()
    return _write_locks.setdefault(engine.url, threading.Lock())


@contextmanager
def reading(engine: Engine) -> Iterator[Session]:
    """A transaction that only reads: it never waits for a writer."""
    with Session(engine.execution_options(read_only=True), expire_on_commit=False) as session:
        yield session
