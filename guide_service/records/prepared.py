"""Statements of the hot path: written with SQLAlchemy, compiled once per database, run below it: by the driver.

A turn runs a dozen small statements; what SQLAlchemy does around each of them costs several times what the database
does. ``None`` is always SQL's NULL, also for JSON. A statement joins the transaction that the connection is in; on
SQLite without one, each look-up sees the newest commit; the driver of PostgreSQL opens a transaction by itself.

On a server each round trip costs several times what a small statement does there. Between ``together`` and its end,
statements whose results nobody wants (``Insert.run``, ``change``, ``Claim.run``, ``Prepared.send``) wait and go out
with the next one that is answered, or with the commit, in their order; what is wrong with one is raised there.
"""

from __future__ import annotations

from collections import namedtuple
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from psycopg.errors import DivisionByZero
from sqlalchemy import Connection, Dialect, Float, Table, bindparam, func, insert, literal, select, update
from sqlalchemy.exc import DBAPIError

from guide_service.records.base import UtcDateTime
from guide_service.records.one_trip import Refused, Trips

Values = Mapping[str, Any]
Process = Callable[[Any], Any]


@dataclass(frozen=True, slots=True)
class _Compiled:
    sql: str
    names: tuple[str, ...]
    """Each parameter in the order of the statement."""
    constants: Values
    fit: tuple[tuple[int, Process], ...]
    """The parameters that must be made fit for the driver, by place."""
    row: Callable[[Iterable[Any]], Any]
    results: tuple[tuple[int, Process], ...]
    """The columns whose values the driver does not give as we want them."""
    missed: type[Exception] | None
    """What it means when it divides by zero."""

    def parameters(self, values: Values) -> list[Any]:
        given = {**self.constants, **values} if self.constants else values
        return self.in_order([given[name] for name in self.names])

    def in_order(self, cells: list[Any]) -> list[Any]:
        """The parameters, from values that come in the order of the names."""
        return _processed(cells, self.fit)

    def made(self, raw: Sequence[Any]) -> Any:
        return self.row(_processed(list(raw), self.results))


def _processed(cells: list[Any], processes: Sequence[tuple[int, Process]]) -> list[Any]:
    for at, process in processes:
        if cells[at] is not None:
            cells[at] = process(cells[at])
    return cells


class Prepared:
    """One statement. ``columns`` names those that an INSERT sets; each of them must be in the values."""

    def __init__(self, statement: Any, *columns: str, missed: type[Exception] | None = None) -> None:
        self._statement, self._columns, self._missed = statement, columns, missed
        self._compiled: dict[str, _Compiled] = {}

    def rows(self, connection: Connection, values: Values) -> list[Any]:
        """What it finds or returns, as named tuples."""
        compiled = self.compiled(connection.dialect)
        found = _answered(connection, compiled, compiled.parameters(values)).fetchall()
        return [compiled.made(raw) for raw in found]

    def first(self, connection: Connection, values: Values) -> Any:
        rows = self.rows(connection, values)
        return rows[0] if rows else None

    def run(self, connection: Connection, values: Values) -> int:
        """How many rows it changed."""
        compiled = self.compiled(connection.dialect)
        changed: int = _answered(connection, compiled, compiled.parameters(values)).rowcount
        return changed

    def send(self, connection: Connection, values: Values) -> None:
        """Without wanting to know what it did."""
        compiled = self.compiled(connection.dialect)
        _send(connection, compiled, compiled.parameters(values))

    def compiled(self, dialect: Dialect) -> _Compiled:
        found = self._compiled.get(dialect.name)
        if found is None:
            found = self._compiled[dialect.name] = _compile(self._statement, self._columns, dialect, self._missed)
        return found


class Claim:
    """An UPDATE that must change a row. Where it does not, ``missed`` is raised: here, or by what it waits for."""

    def __init__(self, statement: Any, missed: type[Exception]) -> None:
        self._missed = missed
        changed = select(func.count()).select_from(statement.returning(literal(1)).cte()).scalar_subquery()
        # on a server nobody looks whether it changed a row: dividing by none is what stops it and all that follows
        by_none = select((literal(1) // changed).label("changed"))
        self._prepared = Prepared({"sqlite": statement, "postgresql": by_none}, missed=missed)

    def run(self, connection: Connection, values: Values) -> None:
        if connection.dialect.name != "sqlite":
            self._prepared.send(connection, values)
        elif self._prepared.run(connection, values) == 0:
            raise self._missed


class Insert:
    """New rows of a table, all of them in one statement: each round trip to a server costs more than a row does."""

    def __init__(self, table: Table, *, without: Collection[str] = ()) -> None:
        self._table, self._columns = table, [name for name in table.c.keys() if name not in without]  # noqa: SIM118
        self._prepared: dict[int, Prepared] = {}

    def run(self, connection: Connection, *rows: Values) -> None:
        """What a row does not name is NULL."""
        if rows:
            compiled = self._of(len(rows)).compiled(connection.dialect)
            cells = [row.get(column) for row in rows for column in self._columns]
            _send(connection, compiled, compiled.in_order(cells))

    def _of(self, count: int) -> Prepared:
        if count not in self._prepared:
            types = {column: self._table.c[column].type for column in self._columns}
            rows = [{c: bindparam(f"{c}_{n}", type_=types[c]) for c in self._columns} for n in range(count)]
            self._prepared[count] = Prepared(insert(self._table).values(rows))
        return self._prepared[count]


def change(connection: Connection, table: Table, rows: int | Sequence[int], values: Values) -> None:
    """Sets some columns of the row with this id, or of each of several."""
    ids = rows if isinstance(rows, Sequence) else (rows,)
    if values and ids:
        given = {f"row_{n}": row for n, row in enumerate(ids)} | {f"new_{k}": v for k, v in values.items()}
        _update(table, tuple(values), len(ids)).send(connection, given)


@lru_cache(maxsize=256)
def _update(table: Table, columns: tuple[str, ...], count: int) -> Prepared:
    new = {name: bindparam(f"new_{name}", type_=table.c[name].type) for name in columns}
    rows = [bindparam(f"row_{n}", type_=table.c.id.type) for n in range(count)]
    return Prepared(update(table).where(table.c.id == rows[0] if count == 1 else table.c.id.in_(rows)).values(new))


def _compile(statement: Any, columns: Sequence[str], dialect: Dialect, missed: type[Exception] | None) -> _Compiled:
    if isinstance(statement, Mapping):
        statement = statement[dialect.name]
    compiled = statement.compile(dialect=_by_position(dialect), column_keys=list(columns) or None)
    names = tuple(compiled.positiontup)
    found = tuple(statement.exported_columns) if statement.is_select else tuple(statement._returning or ())
    row = namedtuple("Row", [column.key for column in found])  # type: ignore[misc]
    return _Compiled(
        sql=str(compiled),
        names=names,
        constants={name: compiled.binds[name].effective_value for name in names if not compiled.binds[name].required},
        fit=_processes([_binding(compiled.binds[name].type, dialect) for name in names]),
        row=row._make,
        results=_processes([_result(column, dialect) for column in found]),
        missed=missed,
    )


def _by_position(dialect: Dialect) -> Dialect:
    """The same with the server's own placeholders, so that the driver need not read the statement for its own."""
    return dialect if dialect.name == "sqlite" else type(dialect)(paramstyle="numeric_dollar")  # type: ignore[call-arg]


def _binding(type_: Any, dialect: Dialect) -> Process | None:
    process: Process | None = type_.dialect_impl(dialect).bind_processor(dialect)
    # a turn writes its own instant into ten columns
    return lru_cache(maxsize=8)(process) if process and isinstance(type_, UtcDateTime) else process


def _result(column: Any, dialect: Dialect) -> Process | None:
    if isinstance(column.type, Float):
        return None  # both drivers give floats; SQLAlchemy would ask for the column's type number
    process: Process | None = column.type.dialect_impl(dialect).result_processor(dialect, None)
    return process


def _processes(all_of_them: Sequence[Process | None]) -> tuple[tuple[int, Process], ...]:
    return tuple((at, process) for at, process in enumerate(all_of_them) if process)


_WAITING = "statements that wait"
_TRIPS = "trips to the server"
_Sent = tuple[_Compiled, list[Any]]


@contextmanager
def together(connection: Connection) -> Iterator[None]:
    """Collects statements that need not be answered; the caller ends with ``commit_together``."""
    if connection.dialect.name == "sqlite":  # no server, no trips
        yield
        return
    info = connection.connection.info
    info[_WAITING] = []
    try:
        yield
    finally:
        del info[_WAITING]


def commit_together(connection: Connection) -> None:
    """Commits the driver's own transaction, with what still waits in the same trip."""
    waiting = _waiting(connection)
    if waiting:
        _sent(connection, _taken(waiting), commit=True)
    else:
        driver_of(connection).commit()


def send_waiting(connection: Connection) -> None:
    """Before a statement, or a commit, of SQLAlchemy's own on that connection."""
    waiting = _waiting(connection)
    if waiting:
        _sent(connection, _taken(waiting))


def driver_of(connection: Connection) -> Any:
    """The driver's own connection: each step through the pool's costs as much as a small statement."""
    return connection.connection.driver_connection


def _waiting(connection: Connection) -> list[_Sent] | None:
    if connection.dialect.name == "sqlite":
        return None
    found: list[_Sent] | None = connection.connection.info.get(_WAITING)
    return found


def _taken(waiting: list[_Sent]) -> list[_Sent]:
    taken = [*waiting]
    waiting.clear()
    return taken


def _send(connection: Connection, compiled: _Compiled, parameters: list[Any]) -> None:
    waiting = _waiting(connection)
    if waiting is None:
        _answered(connection, compiled, parameters)
    else:
        waiting.append((compiled, parameters))


def _answered(connection: Connection, compiled: _Compiled, parameters: list[Any]) -> Any:
    """A cursor that has run, or what is like one."""
    if connection.dialect.name != "sqlite":
        return _sent(connection, [*_taken(_waiting(connection) or []), (compiled, parameters)])
    try:
        return driver_of(connection).execute(compiled.sql, parameters)
    except connection.dialect.loaded_dbapi.Error as trouble:
        raise _told(connection, compiled, trouble) from trouble


def _sent(connection: Connection, statements: Sequence[_Sent], *, commit: bool = False) -> Any:
    """What the last one did."""
    try:
        return _trips(connection).make([(compiled.sql, values) for compiled, values in statements], commit=commit)
    except Refused as refused:
        raise _told(connection, statements[refused.at][0], refused.trouble) from refused.trouble
    except connection.dialect.loaded_dbapi.Error as trouble:
        raise _told(connection, statements[-1][0], trouble) from trouble


def _trips(connection: Connection) -> Trips:
    info = connection.connection.info
    found: Trips | None = info.get(_TRIPS)
    if found is None:
        found = info[_TRIPS] = Trips(driver_of(connection))
    return found


def _told(connection: Connection, compiled: _Compiled, trouble: Exception) -> BaseException:
    """As SQLAlchemy tells it, without the values. A lost connection takes those of the pool with it: the server was
    away, and what comes next begins on a new one."""
    if compiled.missed and isinstance(trouble, DivisionByZero):
        return compiled.missed()
    dialect: Any = connection.dialect
    lost = dialect.is_disconnect(trouble, driver_of(connection), None)
    if lost:
        _lost(connection)
    return DBAPIError.instance(
        compiled.sql,
        None,
        trouble,
        dialect.loaded_dbapi.Error,
        hide_parameters=True,
        connection_invalidated=lost,
        dialect=dialect,
    )


def _lost(connection: Connection) -> None:
    """SQLAlchemy finds it so for itself, and lets nobody have a connection of the pool that is as old."""
    begun = connection.in_transaction()
    with suppress(DBAPIError):
        connection.exec_driver_sql("select 1")
    if not begun:
        connection.rollback()
