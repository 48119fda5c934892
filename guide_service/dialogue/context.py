"""The working sheet of one turn: frozen facts, the conversation's slots, and what the turn adds to them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from guide_service.dialogue.effects import Effect, NewReading
from guide_service.dialogue.events import NO_MOULD, Asked, Event, EventName
from guide_service.dialogue.facts import CheckFacts, Facts
from guide_service.dialogue.labels import order_of
from guide_service.dialogue.saying import Say
from guide_service.drying.assess import assess
from guide_service.drying.assessment import Assessment, NextCheck, PlaceVerdict
from guide_service.drying.terms import (
    BAY_POINTS,
    Band,
    Circumstances,
    Mode,
    Place,
    PlaceKind,
    Point,
    Qualifier,
    Reading,
    Wall,
)
from guide_service.wording.messages import Message

CAME_BACK = "came_back"
"""Slot, of one turn: the question that somebody came back to by BACK, to answer it anew."""
ROUND_MAX_DAYS = 4
"""A round of readings that was interrupted goes on for so many days; later it starts again. Common practice: a check is
one visit, and the county's shortest interval is three days."""


@dataclass(slots=True)
class Context:
    """Mutable only within one ``advance``; nothing outside sees it."""

    facts: Facts
    slots: dict[str, object]
    asked: Asked
    messages: Mapping[str, Message] = field(default_factory=dict)
    events: Sequence[Event] = ()
    """All of the text that this turn answers."""
    event: Event = field(default_factory=lambda: Event(EventName.EMPTY))
    effects: list[Effect] = field(default_factory=list)
    says: list[Say] = field(default_factory=list)
    walls: list[Wall] = field(default_factory=list)
    places: list[Place] = field(default_factory=list)
    new_readings: list[NewReading] = field(default_factory=list)
    withdrawn: set[str] = field(default_factory=set)
    confirmed: set[str] = field(default_factory=set)
    """Readings of a helper that this turn confirms."""
    checks: dict[dt.date, CheckFacts] = field(default_factory=dict)
    touched: list[str] = field(default_factory=list)
    """Labels that this turn's readings are about, in the order sent."""
    _assessed: Assessment | None = None
    _dated: Assessment | None = None
    _readings: list[Reading] | None = None

    @classmethod
    def of(
        cls,
        facts: Facts,
        slots: dict[str, object],
        asked: Asked,
        messages: Mapping[str, Message],
        events: Sequence[Event] = (),
    ) -> Context:
        return cls(
            facts,
            {name: _own(value) for name, value in slots.items()},
            asked,
            messages,
            events,
            walls=list(facts.walls),
            places=list(facts.places),
            checks=dict(facts.checks),
        )

    # what the person has now, with what this turn adds
    def add(self, *effects: Effect) -> None:
        self.effects.extend(effects)

    def wall(self, letter: str) -> Wall | None:
        return next((wall for wall in self.walls if wall.id == letter), None)

    def wall_name(self, letter: str) -> str:
        """What the household calls it; its letter where it has none."""
        wall = self.wall(letter)
        return wall.name if wall else letter

    def place(self, label: str) -> Place | None:
        return next((place for place in self.places if place.label == label), None)

    def followed(self) -> list[Place]:
        return [place for place in self.places if place.followed]

    def readings(self) -> list[Reading]:
        """History and this turn's, without what was taken back, each with the mode and self-check of its visit."""
        if self._readings is None:
            self._readings = self._read()
        return self._readings

    def _read(self) -> list[Reading]:
        replaced = self.withdrawn | {new.replaces for new in self.new_readings if new.replaces}
        everything = [r for r in self.facts.readings if r.id not in replaced]
        everything += [new.reading for new in self.new_readings if new.reading.id not in replaced]
        sure = [replace(r, confirmed=True) if r.id in self.confirmed else r for r in everything]
        return [self._of_visit(reading) for reading in sure]

    def _of_visit(self, reading: Reading) -> Reading:
        visit = self.checks.get(reading.taken_on)
        if visit is None or (visit is self.facts.checks.get(reading.taken_on) and not reading.id.startswith("new:")):
            return reading
        return _with_visit(reading, visit)

    def assessment(self) -> Assessment:
        """The verdicts on history and new readings together; computed once a turn, when it is asked for."""
        if self._assessed is None:
            self._assessed = self._assess(self.readings())
        return self._assessed

    def _assess(self, readings: Sequence[Reading]) -> Assessment:
        return assess(
            tuple(self.places),
            self.walls_to_close(),
            tuple(readings),
            policy=self.facts.policy,
            air=self.facts.air,
            circumstances=self._circumstances(),
            today=self.facts.today,
        )

    def _circumstances(self) -> Circumstances:
        """With what the same text tells of mould and water: readings come first in the order of events, and must not be
        called ready before the rest of the text is heard."""
        known = self.facts.circumstances
        if any(event.name is EventName.MOULD and event.value != NO_MOULD for event in self.events):
            known = replace(known, mould_open=True)
        if any(event.name is EventName.NEW_WATER for event in self.events):
            known = replace(known, flooded_again_on=self.facts.today)
        return known

    def next_check(self) -> NextCheck | None:
        """The date to tell and to keep. While the meter's setting is still being asked, a place that reads dry is dated
        as if the setting were right: the date does not move when the usual answer comes."""
        assessment = self.assessment()
        unsettled = self.visit(self.facts.today).mode == Mode.NOT_ASKED
        if not unsettled or not self.new_readings or all(v.band != Band.DRY for v in assessment.verdicts):
            return assessment.next_check
        if self._dated is None:
            asked = [replace(r, mode=Mode.WOOD_PINS) if r.mode == Mode.NOT_ASKED else r for r in self.readings()]
            self._dated = self._assess(asked)
        return self._dated.next_check

    def walls_to_close(self) -> tuple[Wall, ...]:
        """Those with places to dry: wood that stayed dry is read to compare, and a room without places is no wall."""
        to_dry = {place.wall for place in self.places if place.kind != PlaceKind.REFERENCE}
        return tuple(wall for wall in self.walls if wall.id in to_dry)

    def forget_assessment(self) -> None:
        """To be called whenever readings, visits, walls or places have changed."""
        self._assessed = self._dated = self._readings = None

    def verdict(self, label: str) -> PlaceVerdict | None:
        return next((v for v in self.assessment().verdicts if v.place == label), None)

    # the round under way
    def round_since(self) -> dt.date | None:
        since = self.slots.get("round") or self.slots.get("ended")
        if not isinstance(since, str):
            return None
        day = dt.date.fromisoformat(since)
        return day if 0 <= (self.facts.today - day).days <= ROUND_MAX_DAYS else None

    def missing(self) -> list[tuple[str, tuple[Point, ...]]]:
        """Followed places with points not yet read in the round under way, in order of their labels.

        Wood that stayed dry is asked for once: what it read is kept, and more of it is taken whenever it comes.
        """
        since = self.round_since() or self.facts.today
        read = {(r.place, r.point) for r in self.readings() if r.taken_on >= since}
        skipped = set(strings(self.slots.get("skipped")))
        ever = {r.place for r in self.readings()}
        rows = []
        for place in sorted(self.followed(), key=lambda place: order_of(place.label)):
            if place.kind == PlaceKind.REFERENCE and place.label in ever:
                continue
            points = BAY_POINTS if place.kind == PlaceKind.BAY else (Point.WOOD,)
            left = tuple(p for p in points if (place.label, p) not in read and f"{place.label}:{p}" not in skipped)
            if left:
                rows.append((place.label, left))
        return rows

    def below_once(self) -> tuple[str, Point] | None:
        """The first point that read below the meter's range today, only once, and was not pushed again yet."""
        pushed = set(strings(self.slots.get("pushed")))
        today = [r for r in self.readings() if r.taken_on == self.facts.today]
        for reading in (r for r in today if r.qualifier == Qualifier.BELOW):
            same = [r for r in today if (r.place, r.point) == (reading.place, reading.point)]
            if len(same) == 1 and f"{reading.place}:{reading.point}" not in pushed:
                return reading.place, reading.point
        return None

    def next_points(self) -> tuple[str, tuple[Point, ...]] | None:
        """What a question for readings is about: the point to push again, else the first place not fully read."""
        push = self.slots.get("push")
        if isinstance(push, list):
            return str(push[0]), (Point(str(push[1])),)
        if self.slots.get("round") is None and len(self.followed()) > 1:
            return None  # several places are due: bare numbers belong to none of them for certain
        missing = self.missing()
        return missing[0] if missing else None

    def visit(self, day: dt.date) -> CheckFacts:
        return self.checks.get(day, CheckFacts())


def _with_visit(reading: Reading, visit: CheckFacts) -> Reading:
    own_mode = reading.mode if reading.mode in {"pinless", "other_scale", "colour"} else visit.mode
    return replace(reading, mode=own_mode, self_check=visit.self_check)


def _own(value: object) -> object:
    """A copy of what JSON holds, many times cheaper than ``deepcopy``."""
    if isinstance(value, dict):
        return {name: _own(part) for name, part in value.items()}
    return [_own(part) for part in value] if isinstance(value, list) else value


def introduced(sheet: Context) -> bool:
    """Whether this phone was told who we are and how to stop, and was asked whether we may write."""
    return sheet.slots.get("greeted") is True or sheet.facts.consented


def strings(value: object) -> Iterable[str]:
    return [item for item in value if isinstance(item, str)] if isinstance(value, list) else []
