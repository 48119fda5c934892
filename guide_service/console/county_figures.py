"""The county in numbers, for the areas that an agent sees: read from the daily counts, never from the households."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import func
from sqlmodel import Session, col, select

from guide_service.console.figures import count
from guide_service.console.scope import counts_in_scope
from guide_service.county import County
from guide_service.followup.county_counts import PASSED
from guide_service.records import Agent, CountyCount

Numbers = Counter[tuple[str, str]]
"""By topic and value."""


@dataclass(slots=True)
class Figures:
    day: dt.date
    counted_at: dt.datetime
    before: dt.date | None
    """The day with which this one is compared: the latest one counted before."""
    now: Numbers = field(default_factory=Counter)
    then: Numbers = field(default_factory=Counter)
    areas: dict[str, Numbers] = field(default_factory=lambda: defaultdict(Counter))
    languages: dict[str, Numbers] = field(default_factory=lambda: defaultdict(Counter))

    def number(self, topic: str, value: str) -> int:
        return self.now[topic, value]

    def change(self, topic: str, value: str) -> int | None:
        """None where there is nothing to compare with."""
        return self.now[topic, value] - self.then[topic, value] if self.before else None

    @property
    def households(self) -> int:
        return sum(self.of("stage").values())

    @property
    def households_then(self) -> int:
        return sum(number for (topic, _), number in self.then.items() if topic == "stage")

    def of(self, topic: str) -> dict[str, int]:
        return {value: number for (kind, value), number in self.now.items() if kind == topic}

    def weeks(self, topic: str) -> list[tuple[dt.date | None, int]]:
        """Households by the Monday of their week; first, under None, those whose day is over."""
        by_week = self.of(topic)
        passed = by_week.pop(PASSED, 0)
        return [(None, passed), *((dt.date.fromisoformat(week), by_week[week]) for week in sorted(by_week))]


def households_of(numbers: Numbers) -> int:
    return sum(number for (topic, _), number in numbers.items() if topic == "stage")


def signed(change: int | None) -> str:
    """ "+3", "-2" with a true minus; a dash for no change, nothing where there is nothing to compare with."""
    if change is None:
        return ""
    if change == 0:
        return "\N{EN DASH}"
    return f"+{count(change)}" if change > 0 else f"\N{MINUS SIGN}{count(-change)}"


def figures(session: Session, county: County, agent: Agent, area: str = "", language: str = "") -> Figures | None:
    """None before anything was counted. ``area`` and ``language`` are filters; empty = no filter."""
    day, at = _newest_day(session)
    if day is None:
        return None
    before = session.exec(select(func.max(CountyCount.day)).where(col(CountyCount.day) < day)).one()
    found = Figures(day, at, before)
    known = {each.id for each in county.areas}
    for row in _rows(session, county, agent, day, area, language):
        _add(found.now, row)
        _add(found.areas[row.area if row.area in known else ""], row)
        _add(found.languages[row.language], row)
    for row in _rows(session, county, agent, before, area, language) if before else ():
        _add(found.then, row)
    return found


def _newest_day(session: Session) -> tuple[dt.date | None, Any]:
    day = session.exec(select(func.max(CountyCount.day))).one()
    at = (
        session.exec(select(func.max(CountyCount.counted_at)).where(col(CountyCount.day) == day)).one() if day else None
    )
    return day, at


def _rows(session: Session, county: County, agent: Agent, day: dt.date, area: str, language: str) -> Any:
    names = ("area", "language", "topic", "value", "number")
    query = select(*(getattr(CountyCount, name) for name in names)).where(
        col(CountyCount.day) == day, counts_in_scope(agent, county)
    )
    if area:
        query = query.where(col(CountyCount.area) == area)
    if language:
        query = query.where(col(CountyCount.language) == language)
    return session.connection().execute(query)


def _add(numbers: Numbers, row: Any) -> None:
    """The oldest of several counts, everything else is summed."""
    key = (row.topic, row.value)
    numbers[key] = max(numbers[key], row.number) if row.topic == "oldest" else numbers[key] + row.number
