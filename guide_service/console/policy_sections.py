"""The parts of the policy, each with its own form: what it shows, what it offers to fill in, how it is read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import ModuleType

from guide_service.console import (
    policy_help,
    policy_hours,
    policy_limits,
    policy_offices,
    policy_places,
    policy_silence,
)
from guide_service.console.catalogue import N_
from guide_service.console.policy_form import Form
from guide_service.console.policy_lines import Line, Strictness
from guide_service.county import County
from guide_service.county_decided import Rules


@dataclass(frozen=True, slots=True)
class Section:
    key: str
    """As it stands in the address of its form."""
    title: str
    lead: str
    lines: Callable[[Rules, County], list[Line]]
    fields: Callable[[Rules, County], dict[str, str]]
    read: Callable[[Form, Rules, County], Rules]
    strictness: Mapping[str, Strictness] = field(default_factory=dict)

    @classmethod
    def of(cls, key: str, title: str, lead: str, room: ModuleType) -> Section:
        return cls(key, title, lead, room.lines, room.fields, room.read, getattr(room, "STRICTNESS", {}))

    def laxer(self, new: Rules, old: Rules, file: Rules) -> frozenset[str]:
        """Names of the lines that change and then let more pass than the county file does."""
        return frozenset(
            name
            for name, how in self.strictness.items()
            if how.measure(new) != how.measure(old) and how.laxer(new, file)
        )


SECTIONS = (
    Section.of(
        "limits",
        N_("Limits and checks"),
        N_("What wet, caution, dry and ready hang on. A change counts for what is assessed from then on."),
        policy_limits,
    ),
    Section.of(
        "hours",
        N_("Hours of texting and alarms"),
        N_("Local time of the household. Whoever just wrote is answered at any hour."),
        policy_hours,
    ),
    Section.of(
        "silence",
        N_("Silent households, overdue meters"),
        N_(
            "A household without a planned check that says nothing is asked how it stands, and once more after as many "
            "days. Others are electricians, inspectors, landlords and officials."
        ),
        policy_silence,
    ),
    Section.of(
        "offices",
        N_("Office hours"),
        N_("Texts say when the office opens next; alarms wait for it, except those of danger."),
        policy_offices,
    ),
    Section.of(
        "help",
        N_("Numbers to call"),
        N_("Texts name them as they stand here. The emergency number is set in the county file."),
        policy_help,
    ),
    Section.of(
        "places",
        N_("Where meters are lent"),
        N_("A household reads the place of its own area, or the first one."),
        policy_places,
    ),
)
BY_KEY = {section.key: section for section in SECTIONS}


def all_lines(rules: Rules, county: County) -> list[Line]:
    return [line for section in SECTIONS for line in section.lines(rules, county)]
