"""What the effects of one turn are written with: the transaction, and what is known of the household in it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, Table
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session

from guide_service.records import Check
from guide_service.records.base import new_id
from guide_service.records.prepared import Prepared
from guide_service.wiring import Service


def table_of(model: Any) -> Table:
    table: Table = model.__table__
    return table


_OF_DAY: dict[str, Any] = {"index_elements": ["household_id", "taken_on"]}
_NEW_VISIT = Prepared(
    {
        "sqlite": sqlite.insert(table_of(Check)).on_conflict_do_nothing(**_OF_DAY),
        "postgresql": postgresql.insert(table_of(Check)).on_conflict_do_nothing(**_OF_DAY),
    },
    *table_of(Check).c.keys(),
)


@dataclass(slots=True)
class Writer:
    """Applies the effects of one turn for one household; collects what the household's own row becomes."""

    connection: Connection
    service: Service
    now: dt.datetime
    contact_id: int
    household_id: int
    conversation_id: int
    message_id: int | None
    language: str
    area: str | None
    facts: dict[str, Any]
    visits: dict[dt.date, int]
    """Ids of the visits by day."""
    walls: dict[str, int]
    places: dict[str, int]
    words: str = ""
    household: dict[str, Any] = field(default_factory=dict)
    contact: dict[str, Any] = field(default_factory=dict)
    new_readings: dict[str, int] = field(default_factory=dict)
    consented: bool = True
    reached_by: str | None = None
    """On a call: the channel that the caller agrees to be reached by; None in a text, which keeps what was chosen."""
    agent_id: int | None = None
    """Whose readings these are when no phone sent them: a volunteer's, or an agent's."""
    _session: Session | None = None

    @property
    def session(self) -> Session:
        """For rows that are seldom written: in the same transaction, made when it is needed."""
        if self._session is None:
            self._session = Session(self.connection, expire_on_commit=False)
        return self._session

    def finish(self) -> None:
        """The seldom rows, written out."""
        if self._session is not None:
            self._session.flush()

    @property
    def long_silence(self) -> dt.timedelta:
        return dt.timedelta(days=self.service.county.identity.silent_days)

    # what is known of a visit, wall or place by the dialogue's names
    def visit(self, day: dt.date) -> int:
        if day not in self.visits:
            self.visits[day] = new_id()
            row = Check(
                id=self.visits[day],
                household_id=self.household_id,
                contact_id=self.contact_id,
                taken_on=day,
                opened_at=self.now,
            )
            _NEW_VISIT.send(self.connection, row.model_dump())
        return self.visits[day]

    def reading_id(self, name: str) -> int:
        return self.new_readings[name] if name.startswith("new:") else int(name)
