"""Raising what needs a person from outside a turn, and when the agents on call hear of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from sqlalchemy import case, func, literal_column, text
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session

from guide_service import jobs
from guide_service.county import County
from guide_service.dialogue.answers.spelling import is_telling
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.records import Escalation
from guide_service.records.base import new_id
from guide_service.wiring import Service

ALARM = "alarm"
MOST_WORDS = 300
"""Characters of a person's words kept with an escalation."""
_table: Any = Escalation.__table__  # type: ignore[attr-defined]


def _raising(dialect: Any, telling: bool) -> Any:
    """``telling``: the words of this turn say why; else those that gave rise to it stay."""
    insert = dialect.insert(_table)
    more_urgent = case((insert.excluded.urgency < _table.c.urgency, insert.excluded.urgency), else_=_table.c.urgency)
    return insert.on_conflict_do_update(
        index_elements=["household_id", "reason"],
        index_where=text("state <> 'settled'"),
        set_={
            "times": _table.c.times + 1,
            "urgency": more_urgent,
            # new words of danger need somebody again, whoever has claimed the earlier ones
            "state": case((insert.excluded.urgency == Urgency.DANGER, "waiting"), else_=_table.c.state),
            "detail": insert.excluded.detail,
            "message_id": func.coalesce(insert.excluded.message_id, _table.c.message_id)
            if telling
            else func.coalesce(_table.c.message_id, insert.excluded.message_id),
            "words": case(
                *(() if telling else ((_table.c.words != "", _table.c.words),)),
                (insert.excluded.words == "", _table.c.words),
                (
                    insert.excluded.urgency == Urgency.DANGER,  # the gravest words may be the first ones
                    func.substr(_table.c.words + literal_column("' / '") + insert.excluded.words, 1, MOST_WORDS),
                ),
                else_=insert.excluded.words,
            ),
        },
    ).returning(_table.c.id, _table.c.urgency)


_RAISE = {
    (name, telling): _raising(dialect, telling)
    for name, dialect in (("sqlite", sqlite), ("postgresql", postgresql))
    for telling in (True, False)
}


def raise_escalation(
    session: Session,
    service: Service,
    household_id: int,
    reason: EscalationReason,
    urgency: int = Urgency.SOON,
    *,
    contact_id: int | None = None,
    message_id: int | None = None,
    conversation_id: int | None = None,
    detail: Mapping[str, object] | None = None,
    words: str = "",
    by_an_answer: bool = False,
) -> int:
    """Id of the one open escalation of this household and reason; its alarm is set if it is new."""
    now = service.clock.now()
    row = {
        "id": new_id(), "household_id": household_id, "contact_id": contact_id, "message_id": message_id,
        "conversation_id": conversation_id, "reason": str(reason), "urgency": urgency, "detail": dict(detail or {}),
        "words": words, "state": "waiting",
        "times": 1, "opened_at": now, "alarms": 0,
    }  # fmt: skip
    connection = session.connection()
    telling = urgency == Urgency.DANGER or (is_telling(words) and not by_an_answer)
    found = connection.execute(_RAISE[connection.dialect.name, telling], row).one()
    set_alarm(session, service.county, found.id, found.urgency, now)
    return int(found.id)


def set_alarm(session: Session, county: County, escalation_id: int, urgency: int, now: dt.datetime) -> None:
    """A danger at once, anything else when nobody has claimed it for a while. An alarm that is set stays as it is."""
    after = dt.timedelta() if urgency == Urgency.DANGER else alarm_after(county, urgency)
    payload = {"escalation": escalation_id}
    key = alarm_key(escalation_id)
    jobs.enqueue(session, ALARM, key=key, payload=payload, run_at=now + after, now=now, replace=False)


def alarm_after(county: County, urgency: int) -> dt.timedelta:
    """How long an unclaimed one waits between two alarms; for an urgency that the county does not name the longest."""
    minutes = county.hours.re_alarm_minutes
    return dt.timedelta(minutes=minutes.get(str(urgency), max(minutes.values(), default=480)))


def alarm_key(escalation_id: int | str) -> str:
    return f"alarm:{escalation_id}"
