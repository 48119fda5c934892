"""What the county has decided, as it holds now: the newest version of the policy applied to the county file.

Every process keeps the version that it last read and looks, with one number, whether there is a newer one: a turn in
the look-up that it makes anyway, a page and a job before they begin. So a change counts everywhere at once.
"""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import Engine

from guide_service.county import County
from guide_service.county_decided import Decided, Rules
from guide_service.database import reading, writing
from guide_service.dialogue.facts import CountyFacts, MeterPlaceFact
from guide_service.dialogue.saying import ByLanguage
from guide_service.drying.policy import Policy
from guide_service.records.county_rows import PolicyRow
from guide_service.records.policies import as_policy, newest_version, row_in_force, row_of, seed_policy

FROM_THE_FILE = "county file"
EDITED = (
    "the county file has other limits, hours, silence days, help lines or meter places than when it seeded the policy: "
    "they are changed on the console's policy page"
)
log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class _Held:
    row: int
    """Version of the row; 0 = none yet, the file alone."""
    rules: Rules
    county: County
    facts: CountyFacts


class InForce:
    """``file`` is the county as it was read at start; ``spoken`` are the languages that have texts at all."""

    def __init__(self, engine: Engine, file: County, spoken: Collection[str] = ()) -> None:
        self.engine, self.file, self.spoken = engine, file, frozenset(spoken)
        self._held = self._made(0, Rules.of(file))

    @property
    def rules(self) -> Rules:
        return self._held.rules

    @property
    def policy(self) -> Policy:
        return self._held.rules.policy

    @property
    def county(self) -> County:
        return self._held.county

    @property
    def county_facts(self) -> CountyFacts:
        return self._held.facts

    def look(self) -> None:
        """Whether there is a newer version, and if so what it says."""
        with reading(self.engine) as session:
            self.seen(newest_version(session.connection()))

    def seen(self, version: int | None) -> None:
        """Somebody looked it up already; nothing is read again but a version that is newer than the one held."""
        if version is not None and version > self._held.row:
            with reading(self.engine) as session:
                row = row_in_force(session)
            if row is not None and row.version > self._held.row:
                self._held = self._made(row.version, rules_of(row, self.file))

    def seed(self, now: dt.datetime) -> None:
        """Version 1 is the county file's, from the start. A later edit of the file changes no version, and is told."""
        with writing(self.engine) as session:
            seed_policy(session, first_row(self.file, now))
            first = session.get_one(PolicyRow, 1)
        if rules_of(first, self.file) != Rules.of(self.file):
            log.warning(EDITED)
        self.look()

    def _made(self, row: int, rules: Rules) -> _Held:
        county = rules.decided.applied_to(self.file)
        return _Held(row, rules, county, facts_of(county, self.spoken))


def rules_of(row: PolicyRow, file: County) -> Rules:
    return Rules(as_policy(row), Decided.stored(row.county, file))


def first_row(file: County, now: dt.datetime) -> PolicyRow:
    first = Rules.of(file)
    return row_of(first.policy, first.decided.model_dump(mode="json"), FROM_THE_FILE, now)


def facts_of(county: County, spoken: Collection[str]) -> CountyFacts:
    """What of a county the texts may name."""
    return CountyFacts(
        county=county.name,
        office_name=county.office_name,
        call_back=county.call_back,
        emergency_number=county.emergency_number,
        areas=tuple((area.id, area.name) for area in county.areas),
        languages=county.languages,
        withheld=frozenset(spoken) - set(county.languages),
        help_lines={line.id: ByLanguage(line.number, line.numbers) for line in county.help_lines},
        guidance=county.guidance.figures(),
        lent_meters={meter.number: meter.block_value for meter in county.lent_meters},
        block_tolerance_mc=county.block_check.tolerance_mc,
        meter_places=tuple(
            MeterPlaceFact(
                place.area,
                ByLanguage(
                    f"{place.name}, {place.address}, {place.hours}",
                    {
                        language: f"{own.name or place.name}, {place.address}, {own.hours or place.hours}"
                        for language, own in place.in_language.items()
                    },
                ),
                place.name,
            )
            for place in county.meter_places
        ),
    )
