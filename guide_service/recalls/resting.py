"""What was said by numbers of a meter that reads wrong: the verdicts and the answers that a wall met the limit.

A verdict rests on a recalled reading when it names it. One that met the closing rule rests on earlier rounds too, which
it does not name: where any of the place's numbers is recalled, it is taken to rest on it.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from sqlmodel import Session, col, select

from guide_service.recalls.finding import slices
from guide_service.records import ReadingRow, ReadyAnswer, Verdict


@dataclass(slots=True)
class Taken:
    """Readings of one household that are recalled."""

    ids: set[str] = field(default_factory=set)
    days: dict[str, dt.date] = field(default_factory=dict)
    """Label of each place to the first of its recalled days."""


def taken_with(session: Session, check_ids: Sequence[int]) -> dict[int, Taken]:
    """By household: the readings of these checks that stand or stood when something was said by them."""
    found: dict[int, Taken] = defaultdict(Taken)
    for ids in slices(check_ids):
        for row in session.exec(select(ReadingRow).where(col(ReadingRow.check_id).in_(ids))):
            taken = found[row.household_id]
            taken.ids.add(str(row.id))
            taken.days[row.place] = min(row.taken_on, taken.days.get(row.place, row.taken_on))
    return found


def verdicts_resting(session: Session, taken: dict[int, Taken]) -> list[Verdict]:
    """In the order in which they were given."""
    found: list[Verdict] = []
    for ids in slices(sorted(taken)):
        rows = session.exec(select(Verdict).where(col(Verdict.household_id).in_(ids)).order_by(col(Verdict.id)))
        found += [row for row in rows if _rests(row, taken[row.household_id])]
    return found


def _rests(verdict: Verdict, taken: Taken) -> bool:
    if not taken.ids.isdisjoint(verdict.readings):
        return True
    first = taken.days.get(verdict.place)
    return verdict.passes and first is not None and _not_before(verdict.at, first)


def answers_resting(session: Session, taken: dict[int, Taken]) -> list[ReadyAnswer]:
    """The latest answer about each wall that named it ready, where it covers a place with such readings.

    Also one that has lapsed: while it held, somebody may have closed the wall by it.
    """
    found: list[ReadyAnswer] = []
    for ids in slices(sorted(taken)):
        query = select(ReadyAnswer).where(col(ReadyAnswer.household_id).in_(ids)).order_by(col(ReadyAnswer.id))
        latest = {answer.wall_id: answer for answer in session.exec(query)}
        found += [answer for answer in latest.values() if _covers(answer, taken[answer.household_id])]
    return found


def _covers(answer: ReadyAnswer, taken: Taken) -> bool:
    firsts = [taken.days[label] for label in answer.covers if label in taken.days]
    return bool(firsts) and _not_before(answer.at, min(firsts))


def _not_before(at: dt.datetime, day: dt.date) -> bool:
    """The instant's day there is its UTC day or a neighbour of it: on the safe side."""
    return at.date() >= day - dt.timedelta(days=1)
