"""What the numbers lead to: verdicts kept, the next check planned, what a person must look at raised."""

from __future__ import annotations

from collections.abc import Sequence

from guide_service.dialogue.context import Context
from guide_service.dialogue.effects import Escalate, EscalationReason, ScheduleCheck, StoreAssessment, Urgency
from guide_service.dialogue.guards_order import closed_walls
from guide_service.drying.assessment import Finding, FindingKind
from guide_service.drying.terms import Point

ABOUT_THE_AIR = frozenset({FindingKind.AIR_TOO_HUMID})
"""What the household can mend by itself: it is told how, nobody is alarmed. The stall that follows from it is its own
finding."""
FLAT_MC = 1.0
"""A plate that changed no more than this between two rounds has gone flat [% MC]: the noise of one push. Our choice."""


def store_ready(sheet: Context) -> None:
    """Keep which walls were said to meet the limit: only where it is told, at the end of a check."""
    assessment = sheet.assessment()
    ready = tuple(wall.wall for wall in assessment.walls if wall.ready and wall.wall not in closed_walls(sheet))
    if ready:
        sheet.add(StoreAssessment(assessment, (), ready))


def store_assessment(sheet: Context, told: tuple[str, ...]) -> None:
    """Keep the verdicts that were told, plan the next check, and raise what the numbers show."""
    assessment = sheet.assessment()
    sheet.add(StoreAssessment(assessment, told, ()))
    visit = sheet.next_check()
    sheet.add(ScheduleCheck(visit.on if visit else None))
    for finding in assessment.findings:
        if finding.kind in ABOUT_THE_AIR:
            continue
        reason = reason_of(finding)
        if set(finding.places) & set(told) and reason not in sheet.facts.escalations:
            detail = {"places": ", ".join(finding.places), "finding": str(finding.kind), "cause": str(finding.cause)}
            slow = finding.kind == FindingKind.TOO_SLOW
            sheet.add(Escalate(reason, Urgency.ROUTINE if slow else Urgency.SOON, detail))

    flat = flat_treated_plates(sheet, told)
    if flat and EscalationReason.TREATED_PLATE not in sheet.facts.escalations:
        detail = {"places": ", ".join(flat)}
        sheet.add(Escalate(EscalationReason.TREATED_PLATE, Urgency.ROUTINE, detail))


def flat_treated_plates(sheet: Context, labels: Sequence[str]) -> list[str]:
    """Places whose treated plate stays high while the plain studs above it read dry: an agent may accept the plate when
    a treated one that stayed dry reads the same."""
    known = sheet.facts.circumstances.treated_confirmed
    treated = {place.label for place in sheet.places if place.treated_plate} - known
    return [label for label in labels if label in treated and _is_flat(sheet, label)]


def _is_flat(sheet: Context, label: str) -> bool:
    limit = sheet.facts.policy.dry_below_mc
    rows = [reading for reading in sheet.readings() if reading.place == label and reading.value is not None]
    days = sorted({reading.taken_on for reading in rows})[-2:]
    plates = {r.taken_on: r.value or 0.0 for r in rows if r.point == Point.PLATE and r.taken_on in days}
    above = [r.value or 0.0 for r in rows if r.point != Point.PLATE and r.taken_on in days]
    if len(plates) < 2 or not above or max(above) >= limit:
        return False
    return min(plates.values()) >= limit and max(plates.values()) - min(plates.values()) <= FLAT_MC


def reason_of(finding: Finding) -> EscalationReason:
    return EscalationReason.NEW_WATER if finding.kind == FindingKind.REWETTED else EscalationReason.STALLED
