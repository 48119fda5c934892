"""What of the county file a coordinator changes at the desk: a version of the policy keeps all of it.

The file seeds the first version. Limits are the policy's own (``drying.policy``); the rest is here.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from guide_service.county import County, HelpLine, MeterPlace, Office
from guide_service.county_rules import LoanRules, SilenceRules
from guide_service.drying.policy import Policy

_AS_THEY_ARE = ("call_back", "call_back_source", "help_lines", "meter_places", "silence", "loans")


class _Stored(BaseModel):
    """Rows outlive deploys: a field that is younger than the row has its default, one that is gone is passed over."""

    model_config = ConfigDict(frozen=True, extra="ignore")


class OfficeHours(_Stored):
    opens: dt.time
    closes: dt.time
    days: tuple[int, ...]
    source: str = ""


class TextingHours(_Stored):
    """Of ``county_rules.Hours`` what is decided here; the carrier's rate stays the file's."""

    quiet_before: dt.time
    quiet_after: dt.time
    reminder_at: dt.time
    take_over_hours: float
    nudge_after_days: tuple[int, ...]
    re_alarm_minutes: dict[str, int]
    sources: dict[str, str] = Field(default_factory=dict)


class Decided(_Stored):
    hours: TextingHours
    silence: SilenceRules
    loans: LoanRules
    offices: dict[str, OfficeHours]
    """By the id of the office; one that a row does not name has the file's."""
    call_back: str
    call_back_source: str = ""
    help_lines: tuple[HelpLine, ...] = ()
    meter_places: tuple[MeterPlace, ...] = ()

    @classmethod
    def of(cls, county: County) -> Decided:
        return cls(
            hours=TextingHours(**county.hours.model_dump(include=set(TextingHours.model_fields))),
            silence=county.silence,
            loans=county.loans,
            offices={office.id: _hours_of(office) for office in county.offices},
            call_back=county.call_back,
            call_back_source=county.call_back_source,
            help_lines=county.help_lines,
            meter_places=county.meter_places,
        )

    @classmethod
    def stored(cls, values: dict[str, Any] | None, county: County) -> Decided:
        """Of a row; what it does not hold is as in the county file."""
        if values is None:
            return cls.of(county)
        own = cls.of(county).model_dump(mode="json")
        parts = {name: {**own[name], **values.get(name, {})} for name in ("hours", "silence", "loans")}
        return cls.model_validate({**own, **values, **parts})

    def applied_to(self, county: County) -> County:
        offices = tuple(_with_hours(office, self.offices.get(office.id)) for office in county.offices)
        own = {name: getattr(self, name) for name in _AS_THEY_ARE}
        hours = county.hours.model_copy(update=dict(self.hours))
        return county.model_copy(update={**own, "offices": offices, "hours": hours})


@dataclass(frozen=True, slots=True)
class Rules:
    """Everything that one version of the policy decides."""

    policy: Policy
    decided: Decided

    @classmethod
    def of(cls, county: County) -> Rules:
        """The county file's own: the first version."""
        return cls(county.first_policy(), Decided.of(county))

    def next(self, before: Rules) -> Rules:
        return replace(self, policy=replace(self.policy, version=before.policy.version + 1))


def _hours_of(office: Office) -> OfficeHours:
    return OfficeHours(**office.model_dump(include=set(OfficeHours.model_fields)))


def _with_hours(office: Office, hours: OfficeHours | None) -> Office:
    return office.model_copy(update=dict(hours)) if hours else office
