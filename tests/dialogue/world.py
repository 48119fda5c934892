"""A household in memory: where its conversation stands and what is known of it. Without a database."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

from guide_service.clock import FixedClock
from guide_service.county import read_county
from guide_service.dialogue.events import Event, EventName
from guide_service.dialogue.facts import CheckFacts, Facts
from guide_service.dialogue.flow import FlowSet
from guide_service.dialogue.machine import Decision, Standing, advance
from guide_service.drying.terms import (
    Air,
    Mode,
    Place,
    Point,
    Reading,
    SelfCheck,
    Wall,
)
from guide_service.settings import EXAMPLE_COUNTY, read_settings
from guide_service.turning.deciding import as_sent
from guide_service.wiring import Service, build_service
from tests.dialogue.effects_taken import after

TODAY = dt.date(2026, 5, 20)
LATER = TODAY + dt.timedelta(days=3)
GOOD = CheckFacts(Mode.WOOD_PINS, SelfCheck.PASSED)


@cache
def larkwater() -> Service:
    return build_service(
        read_settings(demo=True, database_url="sqlite:///:memory:"),
        clock=FixedClock(dt.datetime(2026, 5, 20, 15, tzinfo=dt.UTC)),
    )


@cache
def nobody() -> Facts:
    """A phone that was never heard."""
    return Facts(
        county=larkwater().county_facts,
        policy=read_county(EXAMPLE_COUNTY).first_policy(),
        air=Air(),
        today=TODAY,
        office_open=True,
        office_opens=(TODAY, dt.time(8)),
    )


@dataclass(frozen=True)
class Household:
    """Where the conversation stands, and all that is known."""

    standing: Standing
    facts: Facts

    def hears(self, flows: FlowSet, events: Sequence[Event]) -> tuple[Decision, Household]:
        """What is decided, and the household afterwards."""
        decision = advance(flows, self.standing, events, self.facts)
        return decision, Household(decision.standing, after(self.facts, decision.effects))

    def asked(self) -> Household:
        """With the question of its state put, and the answers kept as the person saw them."""
        put = advance(larkwater().flows, self.standing, (Event(EventName.REPEAT),), self.facts)
        kept = as_sent(put.standing.asked, put.says, larkwater(), self.facts.language)
        return replace(self, standing=replace(put.standing, asked=kept))

    def later(self, days: int) -> Household:
        return replace(self, facts=replace(self.facts, today=self.facts.today + dt.timedelta(days=days)))


def round_of(facts: Facts, days_ago: int, **numbers: Sequence[float]) -> Facts:
    """With a round of readings so long ago, wood setting and block in order: ``K1=(22, 19, 17)``."""
    day = facts.today - dt.timedelta(days=days_ago)
    number = len(facts.readings)
    new = []
    for label, values in numbers.items():
        points = (Point.PLATE, Point.LOW_STUD, Point.MID_STUD) if len(values) == 3 else (Point.WOOD,)
        for point, value in zip(points, values, strict=True):
            number += 1
            new.append(
                Reading(
                    str(number), label, point, value, day, day.isoformat(),
                    mode=GOOD.mode, self_check=GOOD.self_check, confirmed=not facts.third_party,
                )
            )  # fmt: skip
    return replace(
        facts, readings=(*facts.readings, *new), last_readings=tuple(new), checks={**facts.checks, day: GOOD}
    )


@cache
def kitchen() -> Facts:
    """An owner with both open bays of the kitchen set up, a pin meter of her own, walls long open and washed."""
    told = {"meter": {"have": True, "kind": "pins"}, "house_kind": "stud", "washed_on": "2026-05-01"}
    return replace(
        nobody(),
        role="owner",
        consented=True,
        area="millrace",
        address="12 Weir St",
        household=told,
        walls=(Wall("K", "kitchen", 2),),
        letters_used=frozenset("K"),
        places=(Place("K1", "K"), Place("K2", "K")),
    )


def dry_once() -> Facts:
    return round_of(kitchen(), 4, K1=(12, 11, 11), K2=(11, 11, 10))


def dry_twice() -> Facts:
    """Two rounds that meet the limit, the second one today."""
    return round_of(dry_once(), 0, K1=(11, 11, 10), K2=(11, 10, 10))
