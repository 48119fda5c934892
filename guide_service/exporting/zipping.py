"""A records request answered: a zip that is written while it is sent, a few households at a time, table by table.

Nothing is held in memory but a slice, and no transaction is open for longer than a slice takes; what changes meanwhile
may stand in one table and not yet in another. The readme in it says from when to when it was made.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass

from sqlmodel import col, select

from guide_service.database import reading, writing
from guide_service.exporting.csv_lines import BYTE_ORDER_MARK, csv_line
from guide_service.exporting.tables import TABLES, Table, explained
from guide_service.records import Audit, Contact, Household
from guide_service.wiring import Service

AT_ONCE = 50
"""Households of one slice."""
CHUNK = 64 * 1024


@dataclass(frozen=True, slots=True)
class Wanted:
    """One household, or all of an area."""

    household: int | None = None
    area: str | None = None
    numbers: bool = False
    """Whole phone numbers instead of their last digits; the caller has written down who chose so, and why."""


class _Pipe(io.RawIOBase):
    """What the zip writes, until it is taken."""

    def __init__(self) -> None:
        self.parts: list[bytes] = []
        self.size = 0

    def writable(self) -> bool:
        return True

    def write(self, data: object) -> int:
        part = bytes(data)  # type: ignore[call-overload]
        self.parts.append(part)
        self.size += len(part)
        return len(part)

    def take(self) -> bytes:
        taken = b"".join(self.parts)
        self.parts, self.size = [], 0
        return taken


def exported(service: Service, wanted: Wanted) -> Iterator[bytes]:
    """The bytes of the zip. Times in it are UTC."""
    pipe, begun = _Pipe(), service.clock.now()
    counts: dict[str, int] = {}
    with zipfile.ZipFile(pipe, "w", zipfile.ZIP_DEFLATED) as archive:
        for table in TABLES:
            counts[table.name] = 0
            with archive.open(table.name, "w") as member:
                names = [name for name, _what, _fill in table.columns]
                member.write((BYTE_ORDER_MARK + csv_line(["household", *names])).encode())
                for lines in _lines(service, wanted, table):
                    counts[table.name] += len(lines)
                    member.write("".join(lines).encode())
                    if pipe.size >= CHUNK:
                        yield pipe.take()
        archive.writestr("readme.txt", readme(service, wanted, counts, begun.isoformat(timespec="seconds")))
    yield pipe.take()


def _lines(service: Service, wanted: Wanted, table: Table) -> Iterator[list[str]]:
    def number_of(contact: Contact) -> str:
        if wanted.numbers and contact.phone_sealed:
            return service.sealer.open(contact.phone_sealed, contact.key_id)
        return f"...{contact.last_digits}" if contact.last_digits else ""

    after = 0
    while True:
        with reading(service.engine) as session:
            query = _households(wanted).where(col(Household.id) > after).order_by(col(Household.id)).limit(AT_ONCE)
            ids = list(session.exec(query))
            known = explained(session, ids, number_of)
            lines = [csv_line(table.cells(known, row)) for row in table.rows(session, ids)]
        yield lines
        if len(ids) < AT_ONCE:
            return
        after = ids[-1]


def _households(wanted: Wanted):  # type: ignore[no-untyped-def]
    query = select(Household.id)
    if wanted.household is not None:
        return query.where(Household.id == wanted.household)
    return query.where(Household.area == wanted.area, col(Household.merged_into).is_(None))


def note_export(service: Service, wanted: Wanted, why: str) -> None:
    """The audit row of one that is taken out on the command line, before the first byte is written."""
    numbers = "whole" if wanted.numbers else "masked"
    detail = {"area": wanted.area or "", "numbers": numbers, "reason": why.strip()[:200], "by": "command line"}
    with writing(service.engine) as session:
        row = Audit(at=service.clock.now(), household_id=wanted.household, action="export", detail=detail)
        session.add(row)


def readme(service: Service, wanted: Wanted, counts: dict[str, int], begun: str) -> str:
    ended = service.clock.now().isoformat(timespec="seconds")
    of_what = f"household {wanted.household}" if wanted.household is not None else f"area {wanted.area}"
    numbers = "whole" if wanted.numbers else "masked: their last digits"
    head = [
        f"{service.county.name}: the records of {of_what}",
        f"Made from {begun} to {ended}. Times are UTC. Phone numbers are {numbers}.",
        "Bodies of texts, typed words and notes may themselves name people, addresses and numbers: look before you",
        "pass it on. The tables are UTF-8, comma-separated (RFC 4180); a cell that a spreadsheet would run begins with",
        "an apostrophe that is not part of it. This is what was told and measured, not a certificate.",
        "",
    ]
    parts = []
    for table in TABLES:
        parts += [f"{table.name}: {table.what} Rows: {counts[table.name]}.", "  household: id of the household"]
        parts += [f"  {name}: {what}" if what else f"  {name}" for name, what, _fill in table.columns]
        parts.append("")
    return "\r\n".join([*head, *parts])
