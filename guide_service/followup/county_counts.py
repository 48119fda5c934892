"""Counts the county every few minutes, by area and language: grouped queries on the households' own rows.

The pages read these counts, so that what they cost does not hang on how many households there are. Counting holds no
lock; only the few hundred rows are written under one.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, case, delete, func, insert, literal_column, or_
from sqlmodel import Session, col, select

from guide_service.database import reading
from guide_service.followup.work import Work
from guide_service.records import Contact, CountyCount, Escalation, Household, Membership, ReadingRow
from guide_service.wiring import Service

KIND = "county_count"
EVERY = dt.timedelta(minutes=10)
"""Our choice: an officer looks a few times a day."""
KEPT_DAYS = 400
"""A flood season and the same day of the year before. Our choice."""
HEARD_DAYS = 7
WEEKS = ("dry_week", "late_week")
PASSED = "passed"
"""Of households whose expected day is over without a reading that says dry."""

_STANDING = col(Household.merged_into).is_(None) & col(Household.deleted_at).is_(None)
_WHERE = (col(Household.area), col(Household.language))
_OPEN: ColumnElement[Any] = literal_column("escalation.state <> 'settled'")
"""In the words of the partial index, as the two below."""
_OF_AGENTS: ColumnElement[Any] = literal_column("reading.agent_id is not null")
_UNCONFIRMED: ColumnElement[Any] = literal_column("not reading.confirmed")

Key = tuple[str, str, str, str]
"""Area, language, topic, value."""


@dataclass(frozen=True, slots=True)
class Counted:
    day: dt.date
    at: dt.datetime
    numbers: dict[Key, int]


def count_county(work: Work) -> None:
    counted = counted_now(work.service)
    with work.settling() as session:
        keep(session, counted)
        work.again(session, work.service.clock.now() + EVERY)


def counted_now(service: Service) -> Counted:
    now = service.clock.now()
    today = now.astimezone(service.county.zone(None)).date()
    tally: Counter[Key] = Counter()
    with reading(service.engine) as session:
        for topic, rows in (
            *_summaries(session, today),
            ("dry_week", _weeks(session, col(Household.dry_on), today)),
            ("late_week", _weeks(session, col(Household.dry_by), today)),
            ("waiting", _waiting(session)),
            ("flag", _at_risk(session)),
            ("flag", _with_reading(session, "read_by_us", _OF_AGENTS, col(ReadingRow.confirmed))),
            ("flag", _with_reading(session, "unconfirmed", _UNCONFIRMED)),
            ("phone", _phones(session, now - dt.timedelta(days=HEARD_DAYS))),
        ):
            for area, language, value, number in rows:
                tally[area or "", language or "", topic, value] += int(number or 0)
        oldest = _oldest(session, now)
    return Counted(today, now, {key: number for key, number in (*tally.items(), *oldest.items()) if number})


def keep(session: Session, counted: Counted) -> None:
    """In place of what was counted earlier that day. The weeks are of use on their own day only."""
    day = col(CountyCount.day)
    over = (day < counted.day) & col(CountyCount.topic).in_(WEEKS)
    old = day < counted.day - dt.timedelta(days=KEPT_DAYS)
    connection = session.connection()
    connection.execute(delete(CountyCount).where(or_(day == counted.day, over, old)))
    names = ("area", "language", "topic", "value")
    rows = [
        {**dict(zip(names, key, strict=True)), "number": number, "day": counted.day, "counted_at": counted.at}
        for key, number in counted.numbers.items()
    ]
    if rows:
        connection.execute(insert(CountyCount), rows)


Rows = Iterable[tuple[Any, Any, str, Any]]


def _summaries(session: Session, today: dt.date) -> list[tuple[str, Rows]]:
    """Stages, places by band and most flags, in one pass over the households' rows."""
    flags = {
        "overdue": col(Household.next_check_on) < today,
        "stalled": col(Household.stalled),
        "mould": col(Household.mould_open),
        "unreached": col(Household.unanswered) > 0,
        "measured": col(Household.last_check_on).is_not(None),
        "not_dry": col(Household.band).in_(("wet", "caution")),
        "no_date": col(Household.band).in_(("wet", "caution")) & col(Household.dry_on).is_(None),
        "ready": col(Household.ready_walls) > 0,
    }
    sums: dict[tuple[str, str], Any] = {("flag", name): _how_many(is_so) for name, is_so in flags.items()}
    sums |= {("place", band): func.sum(getattr(Household, band)) for band in ("wet", "caution", "dry")}
    groups = (*_WHERE, col(Household.stage))
    found = session.connection().execute(
        select(*groups, func.count(), *sums.values()).where(_STANDING).group_by(*groups)
    )
    rows: list[tuple[str, Rows]] = []
    numbers: list[Any]
    for area, language, stage, number, *numbers in found:
        rows.append(("stage", [(area, language, stage, number)]))
        rows += [(topic, [(area, language, value, n)]) for (topic, value), n in zip(sums, numbers, strict=True)]
    return rows


def _how_many(is_so: Any) -> Any:
    return func.sum(case((is_so, 1), else_=0))


def _weeks(session: Session, day: Any, today: dt.date) -> Rows:
    """Households by the Monday of the week in which that day falls."""
    query = select(*_WHERE, day, func.count()).where(_STANDING, day.is_not(None)).group_by(*_WHERE, day)
    for area, language, on, number in session.connection().execute(query):
        yield area, language, PASSED if on < today else monday(on).isoformat(), number


def monday(day: dt.date) -> dt.date:
    return day - dt.timedelta(days=day.weekday())


def _of_escalations(*columns: Any) -> Any:
    joined = col(Household.id) == col(Escalation.household_id)
    return select(*_WHERE, *columns).select_from(Escalation).join(Household, joined).where(_STANDING, _OPEN)


def _waiting(session: Session) -> Rows:
    reason = col(Escalation.reason)
    yield from session.connection().execute(_of_escalations(reason, func.count()).group_by(*_WHERE, reason))


def _oldest(session: Session, now: dt.datetime) -> dict[Key, int]:
    """Hours since the oldest of each reason was opened: of several, the most counts, never the sum."""
    reason = col(Escalation.reason)
    query = _of_escalations(reason, func.min(Escalation.opened_at)).group_by(*_WHERE, reason)
    oldest: dict[Key, int] = {}
    for area, language, value, opened in session.connection().execute(query):
        key = (area or "", language or "", "oldest", value)
        oldest[key] = max(oldest.get(key, 0), int((now - opened).total_seconds() // 3600))
    return oldest


def _at_risk(session: Session) -> Rows:
    """Households with mould in which somebody is at risk; never what of."""
    query = _of_escalations(Escalation.household_id, Escalation.detail).where(col(Escalation.reason) == "mould")
    homes = {
        (area, language, home)
        for area, language, home, detail in session.connection().execute(query)
        if detail.get("risk") is True
    }
    for area, language, _home in homes:
        yield area, language, "at_risk", 1


def _with_reading(session: Session, value: str, *conditions: Any) -> Rows:
    """Households of which a reading that counts is such a one."""
    query = (
        select(*_WHERE, func.count(func.distinct(Household.id)))
        .select_from(ReadingRow)
        .join(Household, col(Household.id) == col(ReadingRow.household_id))
        .where(_STANDING, *conditions, col(ReadingRow.superseded_at).is_(None))
        .group_by(*_WHERE)
    )
    for area, language, number in session.connection().execute(query):
        yield area, language, value, number


def _phones(session: Session, heard_since: dt.datetime) -> Rows:
    kinds = {
        "opted_out": col(Contact.opted_out_at).is_not(None),
        "undeliverable": col(Contact.undeliverable).is_not(None),
        "heard": col(Contact.last_heard_at) >= heard_since,
    }
    query = (
        select(*_WHERE, func.count(), *map(_how_many, kinds.values()))
        .select_from(Membership)
        .join(Contact, col(Contact.id) == col(Membership.contact_id))
        .join(Household, col(Household.id) == col(Membership.household_id))
        .where(_STANDING, col(Membership.ended_at).is_(None))
        .group_by(*_WHERE)
    )
    for area, language, *numbers in session.connection().execute(query):
        for value, number in zip(("all", *kinds), numbers, strict=True):
            yield area, language, value, number
