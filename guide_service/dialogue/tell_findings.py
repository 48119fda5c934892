"""What the history of a place shows beside its band: a stall, new water, air that cannot dry, and the expected day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from guide_service.dialogue.context import Context
from guide_service.dialogue.outcome import ABOUT_THE_AIR, flat_treated_plates, reason_of
from guide_service.dialogue.saying import Argument, Say
from guide_service.drying.assessment import FindingKind, ForecastKind
from guide_service.drying.terms import Band


def findings(sheet: Context, labels: Sequence[str]) -> list[Say]:
    says = []
    for finding in sheet.assessment().findings:
        if not set(finding.places) & set(labels):
            continue
        if finding.kind in ABOUT_THE_AIR:
            says.append(Say("note.air_too_humid"))
            continue
        if reason_of(finding) in sheet.facts.escalations:
            says.append(Say("finding.known", {"list": ", ".join(finding.places)}))
            continue
        office = sheet.facts.county.office_name
        checks = len({r.taken_on for r in sheet.readings() if r.place in finding.places})
        args: dict[str, Argument] = {"list": ", ".join(finding.places), "office": office}
        says.append(_found(finding.kind, args, checks))
    flat = flat_treated_plates(sheet, labels)
    if flat:
        says.append(Say("finding.treated", {"list": ", ".join(flat), "office": sheet.facts.county.office_name}))
    return says[:2]


def _found(kind: FindingKind, args: Mapping[str, Argument], checks: int) -> Say:
    if kind == FindingKind.REWETTED:
        return Say("finding.rewetted", args)
    if kind == FindingKind.TOO_SLOW:
        return Say("finding.slow", args)
    return Say("finding.stalled", {**args, "checks": checks})


def forecast(sheet: Context, labels: Sequence[str]) -> list[Say]:
    """The slowest of the places told about: a range, never a day."""
    ranges: list[tuple[dt.date, dt.date, str]] = []
    for verdict in sheet.assessment().verdicts:
        expected = verdict.forecast
        if verdict.place not in labels or expected is None:
            continue
        if expected.kind == ForecastKind.AIR_CANNOT_DRY:
            return [Say("forecast.air", {"place": verdict.place})]
        dated = expected.kind == ForecastKind.DATE and verdict.band != Band.DRY
        if dated and expected.earliest and expected.latest:
            ranges.append((expected.latest, expected.earliest, verdict.place))
    if not ranges:
        return []
    latest, earliest, place = max(ranges, key=lambda expected: expected[0])
    return [Say("forecast.range", {"place": place, "earliest": earliest, "latest": latest})]
