"""What a recall would take back, before anybody makes it: households, checks, places, and what was said by them."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, select

from guide_service.dialogue.stages import Stage
from guide_service.drying.terms import Band
from guide_service.recalls.finding import Concerned, Tie, Wanted, concerned, names_used, slices, unnamed_checks
from guide_service.recalls.resting import answers_resting, taken_with, verdicts_resting
from guide_service.records import Household, WallRow

MOST_LOOKED_INTO = 2000
"""Households whose verdicts are counted before the recall is made; what was said to more is found by its jobs."""


@dataclass(frozen=True, slots=True)
class Affected:
    """One household of the preview."""

    household: Household
    tie: Tie
    checks: int
    readings: int
    places: tuple[str, ...]
    dry: int
    """Verdicts *dry* that rest on the readings."""
    ready: tuple[str, ...]
    """Names of the walls that were said to meet the limit by them."""
    closed: bool
    """Whether it has told us that walls are closed."""


@dataclass(frozen=True, slots=True)
class Preview:
    wanted: Wanted
    affected: tuple[Affected, ...]
    """Those who were called ready first; at most ``MOST_LOOKED_INTO``."""
    households: int
    checks: int
    names: tuple[str, ...]
    """The words of households that were taken to mean this meter."""
    unnamed: tuple[int, int]
    """Checks of the span for which nobody ever said whose meter it was, and of how many households."""
    digest: str
    """Of the checks and households: what is confirmed is what was seen."""

    @property
    def looked_into_all(self) -> bool:
        return self.households == len(self.affected)

    def of(self, tie: Tie) -> int:
        return sum(each.tie == tie for each in self.affected)

    @property
    def readings(self) -> int:
        return sum(each.readings for each in self.affected)

    @property
    def places(self) -> int:
        return sum(len(each.places) for each in self.affected)

    @property
    def dry(self) -> int:
        return sum(each.dry for each in self.affected)

    @property
    def ready(self) -> int:
        """Households of which a wall was called ready."""
        return sum(bool(each.ready) for each in self.affected)


def preview(session: Session, wanted: Wanted) -> Preview:
    found = concerned(session, wanted)
    affected = _looked_into(session, found[:MOST_LOOKED_INTO])
    return Preview(
        wanted=wanted,
        affected=tuple(sorted(affected, key=lambda each: (not each.ready, not each.closed, -each.dry))),
        households=len(found),
        checks=sum(len(each.checks) for each in found),
        names=tuple(names_used(session, wanted)),
        unnamed=unnamed_checks(session, wanted),
        digest=_digest(found),
    )


def _digest(found: Sequence[Concerned]) -> str:
    told = hashlib.sha256()
    for each in found:
        told.update(f"{each.household_id}:{each.tie}:{','.join(map(str, each.checks))};".encode())
    return told.hexdigest()[:24]


def _looked_into(session: Session, found: Sequence[Concerned]) -> list[Affected]:
    taken = taken_with(session, [check for each in found for check in each.checks])
    dry: dict[int, int] = defaultdict(int)
    for verdict in verdicts_resting(session, taken):
        dry[verdict.household_id] += verdict.band == Band.DRY
    walls: dict[int, list[int]] = defaultdict(list)
    for answer in answers_resting(session, taken):
        walls[answer.household_id].append(answer.wall_id)
    names = _names(session, [wall for some in walls.values() for wall in some])
    homes = _homes(session, [each.household_id for each in found])
    return [
        Affected(
            household=homes[each.household_id],
            tie=each.tie,
            checks=len(each.checks),
            readings=len(taken[each.household_id].ids) if each.household_id in taken else 0,
            places=tuple(sorted(taken[each.household_id].days)) if each.household_id in taken else (),
            dry=dry[each.household_id],
            ready=tuple(names.get(wall, "?") for wall in walls[each.household_id]),
            closed=closed(homes[each.household_id]),
        )
        for each in found
    ]


def closed(home: Household) -> bool:
    return bool(home.facts.get("closed_on")) or home.stage == Stage.AFTERWARDS


def _names(session: Session, ids: Sequence[int]) -> dict[int, str]:
    return {
        wall.id: wall.name
        for some in slices(ids)
        for wall in session.exec(select(WallRow).where(col(WallRow.id).in_(some)))
    }


def _homes(session: Session, ids: Sequence[int]) -> dict[int, Household]:
    return {
        home.id: home
        for some in slices(ids)
        for home in session.exec(select(Household).where(col(Household.id).in_(some)))
    }
