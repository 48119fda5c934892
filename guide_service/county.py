"""The county file (TOML): name, time zone, areas and offices, numbers to call, languages, limits, hours, meter places.

Limits, hours, silence, loans, help lines and meter places are only seeded by it (``county_decided``): later versions
are rows. Everything else is read at start. A wrong file is refused with its name and field.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

from pydantic import Field, ValidationError, field_validator, model_validator

from guide_service.county_rules import (
    GuidanceFigures,
    Hours,
    Identity,
    Limits,
    LoanRules,
    NoticeRules,
    Part,
    RecordsRule,
    Retention,
    SilenceRules,
)
from guide_service.drying.policy import Policy
from guide_service.settings import SettingsError


class Office(Part):
    id: str
    name: str
    phone: str
    opens: dt.time
    closes: dt.time
    days: tuple[Annotated[int, Field(ge=0, le=6)], ...] = (0, 1, 2, 3, 4)
    """Weekdays, Monday = 0."""
    source: str = ""
    """Who set these hours."""
    second_factor: bool = False
    """Whoever sees this office's households signs in with a code of an authenticator app as well."""


class Area(Part):
    id: str
    name: str
    office: str
    time_zone: str | None = None
    flooded_on: dt.date | None = None


class AirNormal(Part):
    """What is normal outside in a month: the fallback where nothing of the air is known."""

    month: int = Field(ge=1, le=12)
    temp_c: float
    rh: float = Field(gt=0, le=100)


class HelpLine(Part):
    id: str
    name: str
    number: str
    numbers: dict[str, str] = Field(default_factory=dict)
    """Where another number, or a key to press, is meant for a language; the others are told ``number``."""
    source: str = ""


class PlaceWords(Part):
    """A place in a language; what is empty is said as everywhere. Its address is what stands on the street sign."""

    name: str = ""
    hours: str = ""


class MeterPlace(Part):
    """Where meters are lent, fetched and brought back."""

    name: str
    address: str
    hours: str
    area: str | None = None
    in_language: dict[str, PlaceWords] = Field(default_factory=dict)
    source: str = ""


class LentMeter(Part):
    """A meter that the county lends, by the number on it, with what it must show on its own check block [% MC]."""

    number: str = Field(min_length=1, max_length=20)
    block_value: float = Field(ge=5.0, le=40.0)


class BlockCheck(Part):
    """How far a meter may be off its check block and still be believed."""

    tolerance_mc: float = Field(default=1.0, gt=0.0, le=3.0)
    source: str = "common practice: one point of the scale"


class County(Part):
    name: str
    office_name: str
    """Who speaks: "Larkwater County Extension"."""
    call_back: str
    call_back_source: str = ""
    time_zone: str
    emergency_number: str
    languages: tuple[str, ...]
    unsigned_languages: dict[str, Annotated[str, Field(min_length=10)]] = Field(default_factory=dict)
    """Languages offered although no speaker has signed their safety texts: code and the county's reason."""
    offices: tuple[Office, ...]
    areas: tuple[Area, ...]
    help_lines: tuple[HelpLine, ...] = ()
    meter_places: tuple[MeterPlace, ...] = ()
    flooded_on: dt.date | None = None
    """The day of the flood, where an area names none of its own: agents read how many days ago it was."""
    agent_signature: str = Field(default="", max_length=40, pattern=r"^(%\(name\)s|[^%])*$")
    """Ends every text that an agent writes; ``%(name)s`` is the agent's name. Empty: texts bear no name."""
    lent_meters: tuple[LentMeter, ...] = ()
    block_check: BlockCheck = BlockCheck()
    on_call: tuple[str, ...] = ()
    """Numbers of the agents on call: alarmed when a danger waits."""
    air_normals: tuple[AirNormal, ...] = ()
    air_normals_source: str = ""
    limits: Limits = Limits()
    hours: Hours = Hours()
    silence: SilenceRules = SilenceRules()
    loans: LoanRules = LoanRules()
    retention: Retention = Retention()
    identity: Identity = Identity()
    records: RecordsRule = RecordsRule()
    notices: NoticeRules = NoticeRules()
    guidance: GuidanceFigures = GuidanceFigures()

    @field_validator("time_zone")
    @classmethod
    def _zone(cls, value: str) -> str:
        try:
            ZoneInfo(value)
        except Exception:
            raise ValueError(f"unknown time zone {value!r}") from None
        return value

    @field_validator("on_call")
    @classmethod
    def _numbers(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        for number in value:
            if not re.fullmatch(r"\+[1-9]\d{6,14}", number):
                raise ValueError(f"{number!r} is no number such as +12025550111")
        return value

    @model_validator(mode="after")
    def _offices_known(self) -> County:
        known = {office.id for office in self.offices}
        for area in self.areas:
            if area.office not in known:
                raise ValueError(f"area {area.id!r} names the unknown office {area.office!r}")
        areas = {area.id for area in self.areas}
        for place in self.meter_places:
            if place.area is not None and place.area not in areas:
                raise ValueError(f"meter place {place.name!r} names the unknown area {place.area!r}")
        return self

    def zone(self, area: str | None) -> ZoneInfo:
        """Time zone of an area, the county's where it has none of its own."""
        own = next((a.time_zone for a in self.areas if a.id == area), None)
        return ZoneInfo(own or self.time_zone)

    def flood_day(self, area: str | None) -> dt.date | None:
        own = next((each.flooded_on for each in self.areas if each.id == area), None)
        return own or self.flooded_on

    def office_of(self, area: str | None) -> Office:
        office_id = next((a.office for a in self.areas if a.id == area), self.offices[0].id)
        return next(office for office in self.offices if office.id == office_id)

    def first_policy(self) -> Policy:
        """The limits of the file as the first version; what the file leaves out has the policy's own default."""
        return self.limits.applied_to(Policy(version=1))


def read_county(path: Path) -> County:
    """The county of a file; ``SettingsError`` with the file and the field when it is missing or wrong."""
    try:
        return County.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    except FileNotFoundError:
        raise SettingsError(f"GUIDE_COUNTY_FILE {path}: no such file") from None
    except tomllib.TOMLDecodeError as problem:
        raise SettingsError(f"GUIDE_COUNTY_FILE {path}: not TOML: {problem}") from None
    except ValidationError as problem:
        error = problem.errors()[0]
        where = ".".join(str(part) for part in error["loc"]) or "file"
        raise SettingsError(
            f"GUIDE_COUNTY_FILE {path}: {where}: {error['msg'].removeprefix('Value error, ')}"
        ) from None
