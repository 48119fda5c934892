"""A drying log as values: every check with its readings, verdicts and reasons. What is shown, on a page or as PDF."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from guide_service.console.catalogue import N_


@dataclass(frozen=True, slots=True)
class LogReading:
    place: str
    point: str
    material: str
    number: str
    """As it was understood."""
    typed: str
    """As it was typed; empty for numbers entered in a form."""
    taken_by: str
    """A role, never a number or a name."""
    arrived: str
    state: str
    counts: bool
    stands: bool
    """Neither corrected nor withdrawn."""


@dataclass(frozen=True, slots=True)
class LogVerdict:
    place: str
    band: str
    """As it is stored: for its mark."""
    band_word: str
    passes: bool
    """Whether the place alone met the closing rule."""
    reasons: tuple[str, ...]
    policy_version: int
    told: str
    """When."""
    recalled: bool


@dataclass(frozen=True, slots=True)
class LogCheck:
    on: dt.date
    day: str
    facts: tuple[tuple[str, str], ...]
    """What was asked about the meter: name and value."""
    recalled: str
    """Why its meter was recalled; empty otherwise."""
    readings: tuple[LogReading, ...]
    verdicts: tuple[LogVerdict, ...]


@dataclass(frozen=True, slots=True)
class LogWall:
    name: str
    places: str
    bays: int | None
    answers: tuple[str, ...]
    """What was said about closing it, and what was withdrawn."""


@dataclass(frozen=True, slots=True)
class LogPolicy:
    version: int
    since: str
    why: str
    limits: tuple[tuple[str, str, str], ...]
    """Name, value, source."""


@dataclass(frozen=True, slots=True)
class LogPlot:
    place: str
    svg: str


@dataclass(frozen=True, slots=True)
class LogSheet:
    number: str
    county: str
    office: str
    call_back: str
    address: str
    area: str
    made: str
    walls: tuple[LogWall, ...]
    checks: tuple[LogCheck, ...]
    plots: tuple[LogPlot, ...]
    policies: tuple[LogPolicy, ...]
    notes: tuple[str, ...]
    """Mould reports, new floods: what else bears on closing."""


CAUTIONS = (
    N_("This log is not a certificate. Inspection and permits decide whether a wall may be closed."),
    N_("It says what was read and what the county's policy made of it. It does not say that the house is safe."),
    N_("Most readings were taken by residents with a pin meter. Nobody has checked each of them on the spot."),
    N_("A band is of its day: water, washing, weather or a cold house can change it afterwards."),
    N_("Corrected and withdrawn readings stay in the log and are marked. They do not count."),
    N_("Before closing: local code, and where the law asks for it a licensed contractor and an inspection."),
)
SIGNATURES = (N_("Owner or resident"), N_("Contractor"), N_("Inspector or county agent"))
HOW_TO_READ = N_("Moisture content is in percent of oven-dry mass. > is over the meter's range, < below it.")
