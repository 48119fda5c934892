"""Rows of texts removed, with a keyed tombstone for each inbound one: a replayed webhook still recreates nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import delete
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, col

from guide_service.followup.erasing import erase_media
from guide_service.records import Message, Tombstone
from guide_service.wiring import Service

_tombstones: Any = Tombstone.__table__  # type: ignore[attr-defined]
_BURY = {
    "sqlite": sqlite.insert(_tombstones).on_conflict_do_nothing(),
    "postgresql": postgresql.insert(_tombstones).on_conflict_do_nothing(),
}


def bury_messages(session: Session, service: Service, rows: Sequence[Message]) -> int:
    erase_media(session, service, [row.media for row in rows])
    inbound = [(row.carrier_sid, row.at) for row in rows if row.direction == "in" and row.carrier_sid]
    graves = [{"sid_key": service.sealer.sid_key(sid), "at": at} for sid, at in inbound]
    connection = session.connection()
    if graves:
        connection.execute(_BURY[connection.dialect.name], graves)
    if rows:
        connection.execute(delete(Message).where(col(Message.id).in_([row.id for row in rows])))
    return len(rows)
