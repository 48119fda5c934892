"""Whether the wood of a house gets drier: its wettest number at the last two checks."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import func
from sqlmodel import Session, col, select

from guide_service.drying.terms import RELATIVE_MATERIALS
from guide_service.records import Check, ReadingRow

NOISE_MC = 1.0
"""A smaller change of the wettest number says nothing [% MC]: a push beside the last one differs by as much
(``drying.forecast.READING_MC`` is 0.8)."""


@dataclass(frozen=True, slots=True)
class Trend:
    before: float
    now: float
    days: int

    @property
    def way(self) -> str:
        """``falling``, ``rising`` or ``level``."""
        if abs(self.now - self.before) <= NOISE_MC:
            return "level"
        return "falling" if self.now < self.before else "rising"


def trends(session: Session, households: Collection[int]) -> dict[int, Trend]:
    """Of each household with two checks on wood."""
    place = func.row_number().over(partition_by=col(Check.household_id), order_by=col(Check.taken_on).desc())
    ranked = select(Check.id, place.label("place")).where(col(Check.household_id).in_(households)).subquery()
    counted = (
        col(ReadingRow.household_id).in_(households),
        col(ReadingRow.superseded_at).is_(None),
        col(ReadingRow.value).is_not(None),
        col(ReadingRow.material).not_in([str(material) for material in RELATIVE_MATERIALS]),
    )
    query = (
        select(col(ReadingRow.household_id), col(ReadingRow.taken_on), func.max(ReadingRow.value))
        .join(ranked, ranked.c.id == col(ReadingRow.check_id))
        .where(*counted, ranked.c.place <= 2)
        .group_by(col(ReadingRow.household_id), col(ReadingRow.taken_on))
        .order_by(col(ReadingRow.taken_on))
    )
    found: dict[int, list[tuple[dt.date, float]]] = defaultdict(list)
    for household, day, worst in session.exec(query) if households else ():
        found[household].append((day, float(worst or 0.0)))
    return {home: _between(rows) for home, rows in found.items() if len(rows) > 1}


def _between(rows: list[tuple[dt.date, float]]) -> Trend:
    (first, before), (last, now) = rows[-2:]
    return Trend(before, now, (last - first).days)
