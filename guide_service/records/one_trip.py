"""Prepared statements for PostgreSQL, written to the server together and answered in their order: one trip.

libpq's pipeline, used from below the driver's cursors. They serve any statement: before each one the socket is asked,
and the kinds of its values are looked up, which takes as long as the server needs for it. Ours are few and known.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass
from itertools import count
from typing import Any, NamedTuple

from psycopg import Connection, Error, OperationalError, errors
from psycopg.adapt import PyFormat, Transformer
from psycopg.pq import ConnStatus, ExecStatus, TransactionStatus
from psycopg.waiting import Ready, Wait

Statement = tuple[str, Sequence[Any]]
"""Its words with the server's own placeholders (``$1``), and its values; the server knows of what kind each must be."""
_WELL = (ExecStatus.COMMAND_OK, ExecStatus.TUPLES_OK)
_OUTLIVED = (errors.FeatureNotSupported, errors.InvalidSqlStatementName)
"""A table was changed, or the server was told to forget, since the statement was prepared."""


class Answered(NamedTuple):
    """Like a cursor that has run."""

    rowcount: int
    rows: list[tuple[Any, ...]]

    def fetchall(self) -> list[tuple[Any, ...]]:
        return self.rows


@dataclass(slots=True)
class Refused(Exception):
    """The server did nothing of this statement, nor of what followed it in the trip."""

    trouble: Error
    at: int
    """Which of the statements; the last, where COMMIT failed."""


class _Prepared:
    """A statement as the server knows it, with what writes its values and reads its answers."""

    def __init__(self, driver: Connection[Any], words: str, number: int) -> None:
        self.words, self.name, self.is_there = words.encode(), b"guide_%d" % number, False
        self._values, self._reads = Transformer(driver), False

    def written(self, values: Sequence[Any]) -> Sequence[Any]:
        return self._values.dump_sequence(values, [PyFormat.TEXT] * len(values))

    def answered(self, result: Any) -> Answered:
        if result.status != ExecStatus.TUPLES_OK:
            return Answered(result.command_tuples or 0, [])
        self._values.set_pgresult(result, set_loaders=not self._reads)
        self._reads = True
        return Answered(result.ntuples, self._values.load_rows(0, result.ntuples, tuple))


class Trips:
    """The trips of one connection. What a statement's first trip prepares stays so, even if that is rolled back."""

    def __init__(self, driver: Connection[Any]) -> None:
        self._driver = driver
        self._prepared: dict[str, _Prepared] = {}
        self._numbers = count()

    def make(self, statements: Sequence[Statement], *, commit: bool = False) -> Answered:
        """What the last statement did. The first of a transaction takes its BEGIN along, the last its COMMIT.

        Raises ``Refused``; the driver's own error where the connection was lost, or a value cannot be written.
        """
        run = [self._of(words) for words, _values in statements]
        written = [one.written(values) for one, (_words, values) in zip(run, statements, strict=True)]
        new = [one for one in dict.fromkeys(run) if not one.is_there]
        line = self._driver.pgconn
        begin = line.transaction_status == TransactionStatus.IDLE
        line.enter_pipeline_mode()
        if begin:
            line.send_query_params(b"BEGIN", None)
        for one in new:
            line.send_prepare(one.name, one.words)
        for one, values in zip(run, written, strict=True):
            line.send_query_prepared(one.name, values)
        if commit:
            line.send_query_params(b"COMMIT", None)
        line.pipeline_sync()
        results = self._waited(line)
        line.exit_pipeline_mode()
        for one, result in zip(new, results[begin:], strict=False):
            one.is_there = result.status in _WELL
        last = len(run) - 1
        self._look_for_trouble(results, [0] * begin + [run.index(one) for one in new] + [*range(last + 1), last])
        return run[last].answered(results[-2 if commit else -1])

    def _of(self, words: str) -> _Prepared:
        found = self._prepared.get(words)
        if found is None:
            found = self._prepared[words] = _Prepared(self._driver, words, next(self._numbers))
        return found

    def _waited(self, line: Any) -> list[Any]:
        try:
            return self._driver.wait(_results(line))
        except BaseException:
            self._driver.close()  # half a trip: nobody could go on with this connection
            raise

    def _look_for_trouble(self, results: Sequence[Any], of: Sequence[int]) -> None:
        for result, at in zip(results, of, strict=False):
            if result.status not in _WELL:
                trouble = errors.error_from_result(result, self._driver.info.encoding)
                if isinstance(trouble, _OUTLIVED):
                    self._prepared.clear()
                raise Refused(trouble, at) from trouble


def _results(line: Any) -> Generator[Wait, Ready | int, list[Any]]:
    """One for each that was sent, up to the end of the trip."""
    while line.flush():
        if (yield Wait.RW) & Ready.R:
            line.consume_input()
    found: list[Any] = []
    while True:
        while line.is_busy():
            if (yield Wait.R):
                line.consume_input()
        result = line.get_result()
        if result is None:  # comes after each
            if line.status == ConnStatus.BAD:
                raise OperationalError(line.get_error_message())
        elif result.status == ExecStatus.PIPELINE_SYNC:
            return found
        else:
            found.append(result)
