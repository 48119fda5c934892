"""The row of a call: looked up, begun, and moved on by one step, at most once for each answer of the caller."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from sqlalchemy import Connection, Table, insert, select, update

from guide_service.calls.prompt import Prompt, Utterance, prompt_from, stored, utterance_from
from guide_service.records import Call
from guide_service.records.base import new_id
from guide_service.turning.keeping import Moved

_call: Table = Call.__table__  # type: ignore[attr-defined]
MOST_TRIES = 3
"""Wrong codes or house numbers in one call until a person must look. Our choice, as for texts."""


@dataclass(frozen=True, slots=True)
class Line:
    """Where a call stands."""

    sid: str
    number: str
    """The caller's, as the carrier wrote it; of a call of ours, whom we call."""
    id: int = 0
    """0: not begun."""
    step: int = -1
    """-1: before the first prompt."""
    contact: int | None = None
    household: int | None = None
    trusted: bool = False
    proved: bool = False
    language: str | None = None
    ours: bool = False
    message: int | None = None
    prompt: Prompt | None = None
    """The one that is open."""
    under: Prompt | None = None
    """The conversation's own, where the open one is the call's."""
    page: int = 0
    silences: int = 0
    tries: int = 0
    pending: Mapping[str, str] = field(default_factory=dict)
    """Words (or the key of a choice) that count once they are confirmed."""
    taught: tuple[str, ...] = ()
    """How to key answers in, as far as it was told."""
    told: bool = False
    """Of a call that we make: what it brings was asked for and said."""
    said: Utterance | None = None

    @property
    def of_conversation(self) -> Prompt | None:
        """The last question of the conversation."""
        if self.prompt is not None and self.prompt.state is not None:
            return self.prompt
        return self.under

    def putting(self, prompt: Prompt) -> Line:
        """With a prompt opened; the conversation's question stays under one of the call's own."""
        taught = tuple(dict.fromkeys([*self.taught, *filter(None, [prompt.lesson])]))
        return replace(self, prompt=prompt, under=self.of_conversation, page=0, silences=0, pending={}, taught=taught)


def look_up(connection: Connection, sid: str, number: str) -> Line | None:
    row = connection.execute(select(_call).where(_call.c.call_sid == sid)).one_or_none()
    return _line(row, number) if row is not None else None


def look_up_ours(connection: Connection, call_id: int, sid: str, number: str) -> Line | None:
    """A call that we make, by its row: the carrier may ring before its id has come back to us."""
    row = connection.execute(select(_call).where(_call.c.id == call_id, _call.c.direction == "out")).one_or_none()
    return replace(_line(row, number), sid=sid) if row is not None and row.call_sid in (None, sid) else None


def keep(connection: Connection, line: Line, now: dt.datetime) -> None:
    """The line after a step. Raises ``Moved`` when another request has taken that step, ``IntegrityError`` when two
    begin the same call."""
    values = _values(line)
    if line.id == 0:
        new = {"id": new_id(), "call_sid": line.sid, "direction": "in", "status": "in-progress", "started_at": now}
        connection.execute(insert(_call).values(**new, trusted=line.trusted, **values))
        return
    mine = (_call.c.id == line.id, _call.c.step == line.step - 1)
    if connection.execute(update(_call).where(*mine).values(call_sid=line.sid, **values)).rowcount != 1:
        raise Moved


def ended(connection: Connection, sid: str, status: str, now: dt.datetime, ours: int | None = None) -> Any:
    """Marks a call as over and forgets what was said in it; its row before, None where there is none or it was over."""
    mine = _call.c.call_sid == sid if ours is None else (_call.c.id == ours) & (_call.c.direction == "out")
    row = connection.execute(select(_call).where(mine)).one_or_none()
    if row is None or row.ended_at is not None:
        return None
    connection.execute(
        update(_call).where(_call.c.id == row.id).values(status=status[:16], ended_at=now, held={}, said={})
    )
    return row


def _values(line: Line) -> dict[str, Any]:
    held = {
        "prompt": stored(line.prompt) if line.prompt else None,
        "under": stored(line.under) if line.under else None,
        "page": line.page,
        "silences": line.silences,
        "tries": line.tries,
        "pending": dict(line.pending),
        "taught": list(line.taught),
        "told": line.told,
    }
    return {
        "contact_id": line.contact,
        "household_id": line.household,
        "proved": line.proved,
        "language": line.language,
        "step": line.step,
        "held": held,
        "said": asdict(line.said) if line.said else {},
    }


def _line(row: Any, number: str) -> Line:
    held = row.held or {}
    return Line(
        sid=row.call_sid or "",
        number=number,
        id=row.id,
        step=row.step,
        contact=row.contact_id,
        household=row.household_id,
        trusted=row.trusted,
        proved=row.proved,
        language=row.language,
        ours=row.direction == "out",
        message=row.message_id,
        prompt=_prompt(held.get("prompt")),
        under=_prompt(held.get("under")),
        page=held.get("page", 0),
        silences=held.get("silences", 0),
        tries=held.get("tries", 0),
        pending=held.get("pending", {}),
        taught=tuple(held.get("taught", ())),
        told=held.get("told", False),
        said=utterance_from(row.said) if row.said else None,
    )


def _prompt(kept: Mapping[str, Any] | None) -> Prompt | None:
    return prompt_from(kept) if kept else None
