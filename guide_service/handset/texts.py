"""The practice phone's texts and calls of ours, in a table of their own: what was sent and what arrived, by number."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import Engine, func
from sqlmodel import col, select

from guide_service.database import reading, writing
from guide_service.records import HandsetText
from guide_service.wording.segments import segments

SENT, RECEIVED = "sent", "received"
RINGS, TAKEN, MISSED = "rings", "taken", "missed"
"""A call of ours; its body is two addresses, of its document and of its end. Nobody but the phone needs them."""
SHOWN = 300


def keep(engine: Engine, number: str, direction: str, body: str, sid: str, at: dt.datetime) -> HandsetText:
    counted = segments(body)
    row = HandsetText(
        number=number,
        direction=direction,
        body=body,
        segments=counted.count,
        encoding=counted.encoding,
        sid=sid,
        at=at,
    )
    with writing(engine) as session:
        session.add(row)
    return row


def texts_of(engine: Engine, number: str) -> list[HandsetText]:
    """The newest texts of a number, oldest first."""
    query = select(HandsetText).where(HandsetText.number == number).order_by(col(HandsetText.id).desc()).limit(SHOWN)
    with reading(engine) as session:
        return list(reversed(session.exec(query).all()))


def numbers(engine: Engine) -> list[str]:
    """Every number that has texts, the one with the newest first."""
    query = select(HandsetText.number).group_by(col(HandsetText.number)).order_by(func.max(HandsetText.id).desc())
    with reading(engine) as session:
        return list(session.exec(query))


def find_received(engine: Engine, number: str, body: str, since: dt.datetime, not_these: set[str]) -> str | None:
    """The sid of a text that this phone was sent since then, in real time (an id begins with its instant)."""
    query = (
        select(HandsetText.sid)
        .where(HandsetText.number == number, HandsetText.direction == RECEIVED, HandsetText.body == body)
        .where(col(HandsetText.id) >= int(since.timestamp() * 1_000) << 22, col(HandsetText.sid).not_in(not_these))
        .order_by(col(HandsetText.id))
    )
    with reading(engine) as session:
        return session.exec(query).first()


def settle_ring(engine: Engine, sid: str, became: str) -> tuple[str, str, str] | None:
    """(number, address of the document, address of its end) of a call that still rings, which is over with this."""
    with writing(engine) as session:
        row = session.exec(select(HandsetText).where(HandsetText.sid == sid).with_for_update()).first()
        if row is None or row.direction != RINGS:
            return None
        row.direction = became
        document, _, end = row.body.partition("\n")
        return row.number, document, end


def as_json(row: HandsetText) -> dict[str, Any]:
    """Ids are strings: they are larger than a browser's whole numbers."""
    return {
        "id": str(row.id),
        "direction": row.direction,
        "body": row.body if row.direction in (SENT, RECEIVED) else "",
        "sid": row.sid if row.direction == RINGS else "",
        "segments": row.segments,
        "encoding": row.encoding,
        "at": row.at.isoformat(),
    }
