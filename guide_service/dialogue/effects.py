"""What a turn does to the records, as data. The edge applies them in one transaction."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from guide_service.dialogue.effects_house import HouseEffect
from guide_service.drying.assessment import Assessment
from guide_service.drying.terms import Reading


class EscalationReason(StrEnum):
    DANGER = "danger"
    MOULD = "mould"
    STALLED = "stalled"
    PERSON = "person"
    NOT_UNDERSTOOD = "not_understood"
    UNDELIVERABLE = "undeliverable"
    CLOSED_WHILE_WET = "closed_while_wet"
    LOST_FROM_SIGHT = "lost_from_sight"
    HOUSE_KIND = "house_kind"
    FAILURE = "failure"
    METER_WANTED = "meter_wanted"
    NEW_WATER = "new_water"
    TREATED_PLATE = "treated_plate"
    LANGUAGE = "language"
    IDENTITY = "identity"
    """Somebody could not show that the household is his or hers."""
    DELETION = "deletion"
    METER_RECALLED = "meter_recalled"
    """A wall was said to meet the limit by a meter that reads wrong."""
    METER_OVERDUE = "meter_overdue"
    """A meter of the county was not brought back although it was asked for twice."""
    READINGS_DISPUTED = "readings_disputed"
    """Somebody of the household says that a helper's readings are not right."""


class Urgency:
    DANGER = 1
    URGENT = 2
    SOON = 3
    ROUTINE = 4


@dataclass(frozen=True, slots=True)
class SetContact:
    language: str | None = None
    consented: bool | None = None
    channel: str | None = None
    """By which what we start reaches the phone from now on: ``sms`` or ``call``. None: as it was agreed to."""


@dataclass(frozen=True, slots=True)
class SetRole:
    role: str


@dataclass(frozen=True, slots=True)
class SetHousehold:
    area: str | None = None
    address: str | None = None
    stage: str | None = None
    facts: Mapping[str, object] = field(default_factory=dict)
    """Merged into what the household told of itself."""


@dataclass(frozen=True, slots=True)
class AddWall:
    letter: str
    name: str
    bays: int | None = None


@dataclass(frozen=True, slots=True)
class UpdateWall:
    letter: str
    name: str | None = None
    bays: int | None = None
    removed: bool = False


@dataclass(frozen=True, slots=True)
class AddPlace:
    label: str
    wall: str
    kind: str = "bay"
    followed: bool = True


@dataclass(frozen=True, slots=True)
class UpdatePlace:
    label: str
    treated_plate: bool | None = None
    followed: bool | None = None
    removed: bool = False


@dataclass(frozen=True, slots=True)
class SetCheck:
    """Facts of the visit of that day; made when it is not there yet."""

    taken_on: dt.date
    mode: str | None = None
    self_check: str | None = None
    block_value: float | None = None
    meter: str | None = None
    temp_c: float | None = None
    closed: bool = False


@dataclass(frozen=True, slots=True)
class NewReading:
    """A reading with the words it was read from. ``reading.id`` is ``new:<n>`` until it is stored."""

    reading: Reading
    typed: str
    replaces: str | None = None


@dataclass(frozen=True, slots=True)
class RecordReadings:
    readings: tuple[NewReading, ...]


@dataclass(frozen=True, slots=True)
class WithdrawReadings:
    ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ConfirmReadings:
    """Somebody of the household says that a helper's readings are right."""

    ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StoreAssessment:
    """Verdicts of the places that were answered about, walls said to be ready, and the household's summary."""

    assessment: Assessment
    told: tuple[str, ...]
    ready_walls: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ScheduleCheck:
    on: dt.date | None
    """None: nothing more is to be checked."""


@dataclass(frozen=True, slots=True)
class CancelChecks:
    pass


@dataclass(frozen=True, slots=True)
class ScheduleLookBack:
    """The one look back after a wall was closed; in place of checks when no open wall is left to measure."""

    on: dt.date
    instead_of_checks: bool = False


@dataclass(frozen=True, slots=True)
class Escalate:
    reason: EscalationReason
    urgency: int
    detail: Mapping[str, object] = field(default_factory=dict)
    by_an_answer: bool = False
    """What was just said only answers a question about it: the words that gave rise to it stay."""


@dataclass(frozen=True, slots=True)
class ReportMould:
    sense: str


@dataclass(frozen=True, slots=True)
class WithdrawMould:
    """The household says that what it smelt was no mould: reports of a smell are lifted, those of a sight stay."""

    doubt_alone: bool = False
    """Only a smell that might have been mould is cleared up: every report stays."""


@dataclass(frozen=True, slots=True)
class FloodedAgain:
    on: dt.date


@dataclass(frozen=True, slots=True)
class NewWaterTakenBack:
    """What was reported as new water reached no wall that is measured: the day of the water before it stands again."""

    on: dt.date
    before: dt.date | None


@dataclass(frozen=True, slots=True)
class OptOut:
    words: str


@dataclass(frozen=True, slots=True)
class OptIn:
    words: str


@dataclass(frozen=True, slots=True)
class ShowConsent:
    """A text was shown that asks for consent; its wording is kept in the ledger."""

    message: str = "welcome.intro"


Effect = (
    SetContact
    | SetRole
    | SetHousehold
    | AddWall
    | UpdateWall
    | AddPlace
    | UpdatePlace
    | SetCheck
    | RecordReadings
    | WithdrawReadings
    | ConfirmReadings
    | StoreAssessment
    | ScheduleCheck
    | CancelChecks
    | ScheduleLookBack
    | Escalate
    | ReportMould
    | WithdrawMould
    | FloodedAgain
    | NewWaterTakenBack
    | OptOut
    | OptIn
    | ShowConsent
    | HouseEffect
)
