"""How a county goes about it: limits, hours, silence, loans, keeping, proof, notices, records and figures of advice.

Each is a table of the county file (``county``), with bounds that refuse a slip of whoever writes it.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from guide_service.dialogue.guidance import Guidance
from guide_service.dialogue.silence import SilenceDays
from guide_service.drying.policy import CheckWindow, Policy


class Part(BaseModel):
    """A table of the county file: a name that it does not know is a slip."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Limits(Part):
    dry_below_mc: float = Field(default=15.0, ge=5.0, le=30.0)
    wet_above_mc: float = Field(default=20.0, ge=5.0, le=30.0)
    harm_mc: float = Field(default=16.0, ge=5.0, le=30.0)
    rounds: int = Field(default=2, ge=2, le=10)
    """Never below two: one round of passing readings is no *ready* (the rule of no false all-clear)."""
    days_between_rounds: int = Field(default=3, ge=1, le=60)
    reading_max_age_days: int = Field(default=14, ge=1, le=90)
    points_per_place: int = Field(default=3, ge=1, le=10)
    confidence: float = Field(default=0.95, gt=0.5, lt=1.0)
    species_offset_mc: float = Field(default=0.0, ge=-10.0, le=10.0)
    stall_checks: int = Field(default=4, ge=3, le=20)
    stall_days: int = Field(default=12, ge=1, le=120)
    next_check_days: dict[Literal["wet", "caution", "dry"], tuple[int, int]] = Field(default_factory=dict)
    sources: dict[str, str] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _in_order(self) -> Limits:
        if not self.dry_below_mc <= self.harm_mc <= self.wet_above_mc:
            raise ValueError("dry_below_mc, harm_mc and wet_above_mc must rise in this order")
        for band, (earliest, latest) in self.next_check_days.items():
            if not 1 <= earliest <= latest <= 60:
                raise ValueError(f"next_check_days: {band} goes from an earlier to a later day, 1 to 60")
        return self

    def applied_to(self, policy: Policy) -> Policy:
        """The policy with these limits; what they leave out stays as it was."""
        limits = self.model_dump(exclude={"next_check_days", "sources"})
        windows: dict[str, CheckWindow] = {band: CheckWindow(*days) for band, days in self.next_check_days.items()}
        every = {**policy.next_check_days, **windows}
        return replace(policy, **limits, next_check_days=every, sources=dict(self.sources))


class Hours(Part):
    quiet_before: dt.time = dt.time(8, 0)
    quiet_after: dt.time = dt.time(21, 0)
    reminder_at: dt.time = dt.time(9, 0)
    take_over_hours: float = 4.0
    """A take-over without activity goes back to the machine after this."""
    nudge_after_days: tuple[int, ...] = (2, 4)
    re_alarm_minutes: dict[str, int] = Field(default_factory=lambda: {"1": 10, "2": 60, "3": 480})
    segments_per_second: float = 1.0
    sources: dict[str, str] = Field(default_factory=dict)


class SilenceRules(Part):
    """Of households that no check is planned for and that say nothing (``dialogue.silence``)."""

    answer: int = Field(default=3, ge=1, le=60)
    """Days of silence after which an open question is brought to mind; all of these: and once more after as many."""
    work: int = Field(default=5, ge=2, le=60)
    drying: int = Field(default=10, ge=3, le=90)
    others: int = Field(default=14, ge=3, le=90)
    listed: int = Field(default=2, ge=1, le=30)
    """Days after the last nudge, of a check too, until another way is tried, and as many again until agents hear."""
    most_a_day: int = Field(default=100, ge=1, le=10_000)
    """Households that are first asked on one day, the longest silent first; the others wait for the next."""
    sources: dict[str, str] = Field(default_factory=dict)

    def days(self) -> SilenceDays:
        return SilenceDays(self.answer, self.work, self.drying, self.others)


class LoanRules(Part):
    """Of meters that are lent (``lending.loans``)."""

    person_after: int = Field(default=7, ge=5, le=60)
    """Days overdue after which a person is asked to fetch it; the two reminders come before."""
    sources: dict[str, str] = Field(default_factory=dict)


class Retention(Part):
    inbound_body_days: int = 365
    picture_link_days: int = 90
    carrier_row_days: int = 730


class Identity(Part):
    """When a phone must show again that a household is its owner's: numbers are recycled."""

    silent_days: int = Field(default=60, ge=14)
    code_open_days: int = Field(default=14, ge=1, le=60)
    """A phone can join for so many days after a resident was last told the code."""


class NoticeRules(Part):
    """Of texts to many households (``notices``)."""

    second_person_above: int = Field(default=50, ge=0)
    """More phones than this need the approval of a second person. Our choice; the county's own rule comes first."""
    cost_per_segment: Decimal | None = Field(default=None, ge=0, le=10)
    """What the carrier charges, with its fees; None = not known, and then no cost is shown."""
    currency: str = Field(default="USD", pattern="^[A-Z]{3}$")
    source: str = ""


class RecordsRule(Part):
    """By which rule of its own the county decides about a request to delete; shown to agents beside the request."""

    rule: str = "Ask the county's records officer before anything is deleted."
    source: str = ""
    texts_while_deletion_is_open: bool = True
    """Whether reminders, nudges and notices go on until a request to delete is decided: the wood dries on meanwhile."""
    keep_readings_days: int | None = Field(default=None, ge=1, le=7300)
    """Days after the last check for which the rule keeps readings and verdicts of a deleted file, without anything
    personal; what a decision is offered first. None: the rule names none."""


_SAFE = Guidance()


class GuidanceFigures(Part):
    """Figures of advice; whoever differs names the source in ``sources``, by the name of the figure."""

    cut_inches: int = Field(default=_SAFE.cut_inches, ge=1, le=96)
    board_feet: int = Field(default=_SAFE.board_feet, ge=1, le=12)
    pump_parts: int = Field(default=_SAFE.pump_parts, ge=2, le=20)
    pump_feet: int = Field(default=_SAFE.pump_feet, ge=1, le=3)
    bleach_cups: str = Field(default=_SAFE.bleach_cups, max_length=5)
    bleach_gallons: str = Field(default=_SAFE.bleach_gallons, max_length=3)
    bleach_spoons: str = Field(default=_SAFE.bleach_spoons, max_length=3)
    mould_feet: int = Field(default=_SAFE.mould_feet, ge=1, le=10)
    old_house: int = Field(default=_SAFE.old_house, ge=1900, le=2100)
    dry_days: int = Field(default=_SAFE.dry_days, ge=1, le=60)
    look_back_days: int = Field(default=_SAFE.look_back_days, ge=7, le=180)
    sources: dict[str, str] = Field(default_factory=dict)

    def figures(self) -> Guidance:
        return Guidance(**self.model_dump(exclude={"sources"}))
