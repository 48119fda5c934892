"""Which checks were taken with a meter, as far as anybody said: by its name with the check, or by who had it then.

A check names its meter in the household's own words, or not at all. Where it names none and the household has said that
it has this meter, the check is taken for one of this meter: on the safe side.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, TypeVar

from sqlalchemy import func
from sqlmodel import Session, col, select

from guide_service.dialogue.meter_names import names_meter
from guide_service.records import Check, Household, Loan, MeterRecall

AT_ONCE = 500
"""Ids in one statement."""
_WHOSE: Any = Household.__table__.c.facts["meter", "whose"].as_string()  # type: ignore[attr-defined]
_UNNAMED = (col(Check.meter).is_(None), _WHOSE.is_(None), col(Check.recall_id).is_(None))
_STANDING = (col(Household.merged_into).is_(None), col(Household.deleted_at).is_(None))
Item = TypeVar("Item")


class Tie(StrEnum):
    """What ties a household to the meter, the surest first."""

    OWN = "own"
    NAMED = "named"
    HAS = "has"
    LENT = "lent"
    UNNAMED = "unnamed"
    HOLDS = "holds"


@dataclass(frozen=True, slots=True)
class Wanted:
    """A recall as it is asked for: a meter by its name, or the one meter of a household."""

    first_day: dt.date
    last_day: dt.date | None = None
    """None: it still reads wrong."""
    meter: str = ""
    household_id: int | None = None
    unnamed: bool = False

    @classmethod
    def of(cls, recall: MeterRecall) -> Wanted:
        return cls(recall.first_day, recall.last_day, recall.meter or "", recall.household_id, recall.unnamed)


@dataclass(frozen=True, slots=True)
class Concerned:
    household_id: int
    tie: Tie
    checks: tuple[int, ...]
    """Ids of the checks whose numbers no longer count."""


def concerned(session: Session, wanted: Wanted) -> list[Concerned]:
    """Households in the order of their ids. What an earlier recall has taken already is left to that one."""
    checks: dict[int, list[int]] = defaultdict(list)
    ties: dict[int, Tie] = {}
    taken: set[int] = set()
    for tie, rows in _checks(session, wanted):
        for household_id, check_id in rows:
            if check_id not in taken:  # a check may be tied in two ways: the surer one is told
                taken.add(check_id)
                checks[household_id].append(check_id)
                ties.setdefault(household_id, tie)
    if wanted.last_day is None:
        for household_id in _holders(session, wanted):
            ties.setdefault(household_id, Tie.HOLDS)
    return [Concerned(key, ties[key], tuple(checks[key])) for key in sorted(ties)]


def names_used(session: Session, wanted: Wanted) -> list[str]:
    """The words of households that were taken to mean this meter."""
    if wanted.household_id is not None:
        return []
    found = session.exec(select(Check.meter).where(*_in_span(wanted), col(Check.meter).is_not(None)).distinct())
    return sorted(name for name in found if name and names_meter(name, wanted.meter))


def _checks(session: Session, wanted: Wanted) -> Iterator[tuple[Tie, Iterable[tuple[int, int]]]]:
    rows = (
        select(Check.household_id, Check.id)
        .join(Household, col(Household.id) == col(Check.household_id))
        .where(*_in_span(wanted), col(Check.recall_id).is_(None), *_STANDING)
        .order_by(col(Check.household_id), col(Check.taken_on))
    )
    if wanted.household_id is not None:
        yield Tie.OWN, session.exec(rows.where(Check.household_id == wanted.household_id))
        return
    for names in slices(names_used(session, wanted)):
        yield Tie.NAMED, session.exec(rows.where(col(Check.meter).in_(names)))
    for names in slices(_names_of_holders(session, wanted.meter)):
        yield Tie.HAS, session.exec(rows.where(col(Check.meter).is_(None), _WHOSE.in_(names)))
    for loans in slices(_loans_of(session, wanted.meter)):
        yield Tie.LENT, session.exec(rows.join(Loan, _while_lent()).where(col(Loan.id).in_(loans)))
    if wanted.unnamed:
        yield Tie.UNNAMED, session.exec(rows.where(*_UNNAMED))


def unnamed_checks(session: Session, wanted: Wanted) -> tuple[int, int]:
    """How many checks of the span nothing ties to any meter, and of how many households."""
    if wanted.household_id is not None:
        return 0, 0
    counted = (
        select(func.count(col(Check.id)), func.count(col(Check.household_id).distinct()))
        .join(Household, col(Household.id) == col(Check.household_id))
        .where(*_in_span(wanted), *_UNNAMED, *_STANDING)
    )
    checks, households = session.exec(counted).one()
    return checks, households


def _in_span(wanted: Wanted) -> list[Any]:
    since = col(Check.taken_on) >= wanted.first_day
    return [since] if wanted.last_day is None else [since, col(Check.taken_on) <= wanted.last_day]


def _names_of_holders(session: Session, meter: str) -> list[str]:
    """How the households that have this meter now name it."""
    found = session.exec(select(_WHOSE).where(_WHOSE.is_not(None)).distinct())
    return sorted(name for name in found if names_meter(str(name), meter))


def _loans_of(session: Session, meter: str) -> list[int]:
    """Every loan of it there ever was: a few a year."""
    numbers = [number for number in session.exec(select(Loan.meter).distinct()) if names_meter(number, meter)]
    return list(session.exec(select(Loan.id).where(col(Loan.meter).in_(numbers)).order_by(col(Loan.id))))


def _while_lent() -> Any:
    """A check that names no meter, of the household that had the county's on that day."""
    until = col(Loan.returned_on).is_(None) | (col(Check.taken_on) <= col(Loan.returned_on))
    same = col(Loan.household_id) == col(Check.household_id)
    return same & col(Check.meter).is_(None) & (col(Check.taken_on) >= col(Loan.lent_on)) & until


def _holders(session: Session, wanted: Wanted) -> list[int]:
    """Households that have the meter now, whether or not they have measured with it."""
    if wanted.household_id is not None:
        return [wanted.household_id]
    found: list[int] = []
    for names in slices(_names_of_holders(session, wanted.meter)):
        found += session.exec(select(Household.id).where(*_STANDING, _WHOSE.in_(names)))
    return found


def slices(items: Sequence[Item]) -> Iterator[Sequence[Item]]:
    for at in range(0, len(items), AT_ONCE):
        yield items[at : at + AT_ONCE]
