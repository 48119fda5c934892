"""What a turn knows: everything that was loaded, frozen, so that deciding needs no database and no clock."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from guide_service.dialogue.guidance import Guidance
from guide_service.dialogue.house_facts import HouseFacts
from guide_service.dialogue.saying import ByLanguage
from guide_service.drying.policy import Policy
from guide_service.drying.terms import Air, Circumstances, Mode, Place, Reading, SelfCheck, Wall


@dataclass(frozen=True, slots=True)
class MeterPlaceFact:
    area: str | None
    words: ByLanguage
    """Name, address and hours."""
    name: str = ""


@dataclass(frozen=True, slots=True)
class CountyFacts:
    """What the county has decided and texts may name."""

    county: str
    office_name: str
    call_back: str
    emergency_number: str
    areas: tuple[tuple[str, str], ...]
    """(id, name) of each area."""
    languages: tuple[str, ...]
    withheld: frozenset[str] = field(default_factory=frozenset, kw_only=True)
    """Languages that we have texts in and do not offer: one may be told so in it."""
    help_lines: Mapping[str, ByLanguage] = field(default_factory=dict)
    """Id to number."""
    meter_places: tuple[MeterPlaceFact, ...] = ()
    guidance: Guidance = field(default_factory=Guidance)
    lent_meters: Mapping[str, float] = field(default_factory=dict)
    """Number of a meter that the county lends, to what it must show on its check block [% MC]."""
    block_tolerance_mc: float = 1.0


@dataclass(frozen=True, slots=True)
class CheckFacts:
    """What was asked about the meter at the visit of one day."""

    mode: Mode = Mode.NOT_ASKED
    self_check: SelfCheck = SelfCheck.NOT_DONE


@dataclass(frozen=True, slots=True)
class RecallSpan:
    """Days on which numbers of the meter that the household has do not count: it was found to read wrong."""

    id: str
    first_day: dt.date
    last_day: dt.date | None = None
    """None: it still reads wrong."""


@dataclass(frozen=True, slots=True)
class Facts:
    county: CountyFacts
    policy: Policy
    air: Air
    today: dt.date
    office_open: bool
    office_opens: tuple[dt.date, dt.time]
    """When a person is next there: today's opening when open now."""
    language: str = "en"
    role: str = "unknown"
    consented: bool = False
    opted_out: bool = False
    area: str | None = None
    address: str | None = None
    stage: str = "unknown"
    """Where the household stands in the recovery order."""
    household: Mapping[str, object] = field(default_factory=dict)
    """What the household told of itself: ``meter`` (have, kind, whose), ``washed_on``, ``walls_open`` ..."""
    walls: tuple[Wall, ...] = ()
    letters_used: frozenset[str] = frozenset()
    """Letters of removed walls too: a label never means two places."""
    places: tuple[Place, ...] = ()
    readings: tuple[Reading, ...] = ()
    """All that stand, in the order taken."""
    last_readings: tuple[Reading, ...] = ()
    """Those of the latest message that held any: what "undo" takes back."""
    checks: Mapping[dt.date, CheckFacts] = field(default_factory=dict)
    recalls: tuple[RecallSpan, ...] = ()
    """Of the meter that the household has now."""
    recalled_checks: Mapping[dt.date, str] = field(default_factory=dict)
    """Days whose check was taken with a meter that was recalled since: id of the recall."""
    circumstances: Circumstances = field(default_factory=Circumstances)
    next_check_on: dt.date | None = None
    escalations: Mapping[str, str] = field(default_factory=dict)
    """Open ones: reason to state (``waiting`` or ``claimed``)."""
    unspoken: frozenset[str] = frozenset()
    """Languages that calls have no voice for: nobody is offered to be rung in them."""
    house: HouseFacts = field(default_factory=HouseFacts)

    def recall_on(self, day: dt.date) -> str | None:
        """Id of the recall that a number falls under which this household takes on that day with its own meter."""
        spans = (each.id for each in self.recalls if each.first_day <= day <= (each.last_day or day))
        return self.recalled_checks.get(day) or next(spans, None)

    def wall_name(self, letter: str) -> str:
        return next((wall.name for wall in self.walls if wall.id == letter), letter)

    def with_another_meter(self) -> Facts:
        """For whoever measures there with a meter of his own: a volunteer, an agent."""
        return replace(self, recalls=(), recalled_checks={})

    @property
    def third_party(self) -> bool:
        """Whether readings from this phone wait for a member of the household or an agent."""
        return self.role in {"contractor", "volunteer", "helper"} or (self.house.by_code and self.role == "unknown")
