"""The interface between the dialogue and the science: readings in, an assessment out.

``assess`` is pure: the same arguments give the same assessment. Reasons are data (a code and arguments), never
sentences; ``wording`` turns them into the person's language.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from guide_service.drying.terms import Band, Point, Qualifier


class ReasonCode(StrEnum):
    """Why a verdict, a refusal of *ready*, a date or a finding is as it is."""

    WORST_POINT = "worst_point"
    NO_READING = "no_reading"
    OVER_RANGE = "over_range"
    BELOW_RANGE_UNPROVEN = "below_range_unproven"
    RELATIVE_ONLY = "relative_only"
    RELATIVE_WORSENS = "relative_worsens"
    NOT_WOOD_SETTING = "not_wood_setting"
    MODE_NOT_ASKED = "mode_not_asked"
    TREATED_READS_HIGH = "treated_reads_high"
    UNCONFIRMED = "unconfirmed"
    METER_FAILED_CHECK = "meter_failed_check"
    METER_RECALLED = "meter_recalled"
    MISSING_POINTS = "missing_points"
    ONE_ROUND_ONLY = "one_round_only"
    ROUNDS_TOO_CLOSE = "rounds_too_close"
    RISING = "rising"
    NOT_BELOW_LIMIT = "not_below_limit"
    NOT_SURE_ENOUGH = "not_sure_enough"
    TOO_OLD = "too_old"
    PLACES_NOT_READ = "places_not_read"
    BAYS_UNKNOWN = "bays_unknown"
    SWEEP_NEEDED = "sweep_needed"
    MOULD_OPEN = "mould_open"
    FLOODED_AGAIN = "flooded_again"
    AIR_TOO_HUMID = "air_too_humid"
    WASHED_RECENTLY = "washed_recently"
    MEETS_LIMIT = "meets_limit"
    BAND_INTERVAL = "band_interval"
    SECOND_ROUND = "second_round"
    DAY_NOT_POSSIBLE = "day_not_possible"


@dataclass(frozen=True, slots=True)
class Reason:
    code: ReasonCode
    args: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class WorstPoint:
    """The wood point that decided."""

    reading: str
    point: Point
    value: float
    qualifier: Qualifier
    corrected: float
    """[% MC] after correction (equal to ``value`` where none applies)."""


class ForecastKind(StrEnum):
    DATE = "date"
    CANNOT_TELL = "cannot_tell"
    TOO_WET = "too_wet"
    AIR_CANNOT_DRY = "air_cannot_dry"
    DRY_NOW = "dry_now"


@dataclass(frozen=True, slots=True)
class Forecast:
    """When a place is expected below the limit, as a range that holds with 80 % probability."""

    kind: ForecastKind
    earliest: dt.date | None = None
    likely: dt.date | None = None
    latest: dt.date | None = None
    days_to_go: float | None = None
    """From the newest check to the likely day, also where the range is too wide to tell anybody a date [days]."""


@dataclass(frozen=True, slots=True)
class PlaceVerdict:
    """What one place reads today, with its reasons; ``ready`` is about the whole wall (``WallReadiness``)."""

    place: str
    band: Band
    worst: WorstPoint | None
    reasons: tuple[Reason, ...]
    readings: tuple[str, ...]
    """Ids of the readings behind the verdict."""
    missing_points: tuple[Point, ...] = ()
    passes: bool = False
    """Whether this place alone meets the closing rule."""
    forecast: Forecast | None = None
    probability_dry: float | None = None


@dataclass(frozen=True, slots=True)
class WallReadiness:
    wall: str
    ready: bool
    covers: tuple[str, ...]
    """Labels of the places that the answer covers."""
    reasons: tuple[Reason, ...]
    lapses_on: dt.date | None = None
    sweep: tuple[str, ...] = ()
    """Labels of bays still to be read once at the plate, when that is all that is missing."""


class FindingKind(StrEnum):
    STALLED = "stalled"
    TOO_SLOW = "too_slow"
    REWETTED = "rewetted"
    AIR_TOO_HUMID = "air_too_humid"
    LIMIT_OUT_OF_REACH = "limit_out_of_reach"


class Cause(StrEnum):
    UNKNOWN = "unknown"
    HUMID_AIR = "humid_air"
    NEW_WATER = "new_water"
    ONE_PLACE = "one_place"
    TREATED_OR_SALT = "treated_or_salt"


@dataclass(frozen=True, slots=True)
class Finding:
    kind: FindingKind
    places: tuple[str, ...]
    cause: Cause = Cause.UNKNOWN
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class NextCheck:
    on: dt.date
    reason: Reason


@dataclass(frozen=True, slots=True)
class Assessment:
    """Everything that the numbers say of one household on one day."""

    verdicts: tuple[PlaceVerdict, ...]
    walls: tuple[WallReadiness, ...]
    next_check: NextCheck | None
    findings: tuple[Finding, ...]
    policy_version: int
