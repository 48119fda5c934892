"""The county file (TOML): name, time zone, areas and offices, numbers to call, languages, limits, hours, meter places.

Limits, hours, silence, loans, help lines and meter places are only seeded by it (``county_decided``): later versions
are rows. Everything else is read at start. A wrong file is refused with its name and field.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from guide_service.dialogue.guidance import Guidance
from guide_service.dialogue.silence import SilenceDays
from guide_service.drying.policy import CheckWindow, Policy
from guide_service.settings import SettingsError


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Office(_Part):
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


class Area(_Part):
    id: str
    name: str
    office: str
    time_zone: str | None = None
    flooded_on: dt.date | None = None


class AirNormal(_Part):
    """What is normal outside in a month: the fallback where nothing of the air is known."""

    month: int = Field(ge=1, le=12)
    temp_c: float
    rh: float = Field(gt=0, le=100)


class HelpLine(_Part):
    id: str
    name: str
    number: str
    numbers: dict[str, str] = Field(default_factory=dict)
    """Where another number, or a key to press, is meant for a language; the others are told ``number``."""
    source: str = ""


class PlaceWords(_Part):
    """A place in a language; what is empty is said as everywhere. Its address is what stands on the street sign."""

    name: str = ""
    hours: str = ""


class MeterPlace(_Part):
    """Where meters are lent, fetched and brought back."""

    name: str
    address: str
    hours: str
    area: str | None = None
    in_language: dict[str, PlaceWords] = Field(default_factory=dict)
    source: str = ""


class LentMeter(_Part):
    """A meter that the county lends, by the number on it, with what it must show on its own check block [% MC]."""

    number: str = Field(min_length=1, max_length=20)
    block_value: float = Field(ge=5.0, le=40.0)


class BlockCheck(_Part):
    """How far a meter may be off its check block and still be believed."""

    tolerance_mc: float = Field(default=1.0, gt=0.0, le=3.0)
    source: str = "common practice: one point of the scale"


class Limits(_Part):
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


class Hours(_Part):
    quiet_before: dt.time = dt.time(8, 0)
    quiet_after: dt.time = dt.time(21, 0)
    reminder_at: dt.time = dt.time(9, 0)
    take_over_hours: float = 4.0
    """A take-over without activity goes back to the machine after this."""
    nudge_after_days: tuple[int, ...] = (2, 4)
    re_alarm_minutes: dict[str, int] = Field(default_factory=lambda: {"1": 10, "2": 60, "3": 480})
    segments_per_second: float = 1.0
    sources: dict[str, str] = Field(default_factory=dict)


class SilenceRules(_Part):
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


class LoanRules(_Part):
    """Of meters that are lent (``lending.loans``)."""

    person_after: int = Field(default=7, ge=5, le=60)
    """Days overdue after which a person is asked to fetch it; the two reminders come before."""
    sources: dict[str, str] = Field(default_factory=dict)


class Retention(_Part):
    inbound_body_days: int = 365
    picture_link_days: int = 90
    carrier_row_days: int = 730


class Identity(_Part):
    """When a phone must show again that a household is its owner's: numbers are recycled."""

    silent_days: int = Field(default=60, ge=14)
    code_open_days: int = Field(default=14, ge=1, le=60)
    """A phone can join for so many days after a resident was last told the code."""


class NoticeRules(_Part):
    """Of texts to many households (``notices``)."""

    second_person_above: int = Field(default=50, ge=0)
    """More phones than this need the approval of a second person. Our choice; the county's own rule comes first."""
    cost_per_segment: Decimal | None = Field(default=None, ge=0, le=10)
    """What the carrier charges, with its fees; None = not known, and then no cost is shown."""
    currency: str = Field(default="USD", pattern="^[A-Z]{3}$")
    source: str = ""


class RecordsRule(_Part):
    """By which rule of its own the county decides about a request to delete; shown to agents beside the request."""

    rule: str = "Ask the county's records officer before anything is deleted."
    source: str = ""
    texts_while_deletion_is_open: bool = True
    """Whether reminders, nudges and notices go on until a request to delete is decided: the wood dries on meanwhile."""
    keep_readings_days: int | None = Field(default=None, ge=1, le=7300)
    """Days after the last check for which the rule keeps readings and verdicts of a deleted file, without anything
    personal; what a decision is offered first. None: the rule names none."""


_SAFE = Guidance()


class GuidanceFigures(_Part):
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


class County(_Part):
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
