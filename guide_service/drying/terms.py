"""The trade's words as types: what is measured, with what, where. Stored values are permanent."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum


class Band(StrEnum):
    """What a place reads today. ``UNREAD`` = no reading that can be judged."""

    WET = "wet"
    CAUTION = "caution"
    DRY = "dry"
    UNREAD = "unread"


class Material(StrEnum):
    WOOD = "wood"
    SHEATHING = "sheathing"
    """Plywood or other wood panel: read on the wood scale."""
    TREATED = "treated"
    """Preservative-treated wood: reads high, never corrected by subtraction."""
    DRYWALL = "drywall"
    PLASTER = "plaster"
    CONCRETE = "concrete"
    MASONRY = "masonry"


RELATIVE_MATERIALS = frozenset({Material.DRYWALL, Material.PLASTER, Material.CONCRETE, Material.MASONRY})
"""On a wood scale their numbers are relative only: they can make a verdict worse, never better."""


class Qualifier(StrEnum):
    EXACT = "exact"
    BELOW = "below"
    """Under the meter's range: left-censored."""
    ABOVE = "above"
    """Over the meter's range: right-censored."""


class Mode(StrEnum):
    """How the meter was used. Only ``WOOD_PINS`` can pass a place."""

    WOOD_PINS = "wood_pins"
    NOT_ASKED = "not_asked"
    PINLESS = "pinless"
    OTHER_SCALE = "other_scale"
    COLOUR = "colour"
    """Only a colour band was sent ("green"): no number."""


class SelfCheck(StrEnum):
    """The meter's own check block or self-test at this check."""

    PASSED = "passed"
    FAILED = "failed"
    NOT_DONE = "not_done"


class PlaceKind(StrEnum):
    BAY = "bay"
    SUBFLOOR = "subfloor"
    JOIST = "joist"
    SILL = "sill"
    REFERENCE = "reference"
    """Wood of the same house that stayed dry: what this meter reads on dry wood here."""


class Point(StrEnum):
    PLATE = "plate"
    LOW_STUD = "low_stud"
    MID_STUD = "mid_stud"
    SHEATHING = "sheathing"
    WOOD = "wood"
    """The one point of a place that is not a bay (subfloor, joist, sill, reference)."""
    SURFACE = "surface"
    """A point on a relative material."""


BAY_POINTS = (Point.PLATE, Point.LOW_STUD, Point.MID_STUD)
"""Order in which a bay is read, and in which three bare numbers are understood."""


class Exposure(StrEnum):
    TWO_FACES = "two_faces"
    ONE_FACE = "one_face"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Place:
    """A place that is measured: a stud bay, or a subfloor, joist, sill or reference."""

    label: str
    """Ours, a letter and a number: ``K2``."""
    wall: str
    """Id of the wall (or floor) that the place belongs to."""
    kind: PlaceKind = PlaceKind.BAY
    exposure: Exposure = Exposure.UNKNOWN
    treated_plate: bool | None = None
    followed: bool = True
    """Followed through the weeks; a place read only in the sweep before closing is not."""


@dataclass(frozen=True, slots=True)
class Wall:
    """A wall or floor that will be closed as one."""

    id: str
    name: str
    bays: int | None = None
    """Open stud bays in all; ``None`` = not known, and then the wall is never ready."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One number with material, qualifier and the circumstances of its check."""

    id: str
    place: str
    point: Point
    value: float | None
    """[% MC for wood, scale units otherwise]; ``None`` for a colour band."""
    taken_on: dt.date
    check: str
    """Id of the visit that it belongs to."""
    qualifier: Qualifier = Qualifier.EXACT
    material: Material = Material.WOOD
    mode: Mode = Mode.WOOD_PINS
    colour: str | None = None
    """``green``, ``yellow`` or ``red`` when only a colour was sent."""
    temp_c: float | None = None
    """Temperature of the wood [deg C], where known."""
    meter: str | None = None
    self_check: SelfCheck = SelfCheck.NOT_DONE
    resolution: float = 1.0
    """What the meter shows: 0.1, 0.5 or 1.0 [% MC]."""
    confirmed: bool = True
    """False while a third party's reading waits for a member of the household or an agent."""
    recall: str | None = None
    """Id of the recall of its meter, which was found to read wrong: the number can only worsen."""


@dataclass(frozen=True, slots=True)
class Air:
    """Air where the wood dries, and outside. Humidity in %, temperature in deg C."""

    indoor_temp_c: float | None = None
    indoor_rh: float | None = None
    outdoor_temp_c: float | None = None
    outdoor_rh: float | None = None
    observed_on: dt.date | None = None
    source: str = "unknown"
    """``reported`` by the household, ``weather`` file, monthly ``normals`` of the county file, ``unknown``."""


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What else is known of the house and may block or explain a verdict."""

    mould_open: bool = False
    flooded_again_on: dt.date | None = None
    power_on: bool | None = None
    washed_on: dt.date | None = None
    relative_high: bool = False
    cannot_on: frozenset[dt.date] = frozenset()
    """Days on which the person cannot do a check."""
    treated_confirmed: frozenset[str] = frozenset()
    """Labels whose treated plate an agent has accepted as flat at the level of a treated one that stayed dry."""
