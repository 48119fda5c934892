"""What the numbers lead to: verdicts kept, the next check planned, what a person must look at raised."""

from __future__ import annotations

from guide_service.dialogue.context import Context
from guide_service.dialogue.effects import Escalate, EscalationReason, ScheduleCheck, StoreAssessment, Urgency
from guide_service.drying.assessment import FindingKind


def store_assessment(sheet: Context, told: tuple[str, ...]) -> None:
    """Keep the verdicts that were told, plan the next check, and raise what the numbers show."""
    assessment = sheet.assessment()
    ready = tuple(wall.wall for wall in assessment.walls if wall.ready)
    sheet.add(StoreAssessment(assessment, told, ready))
    if assessment.next_check is not None:
        sheet.add(ScheduleCheck(assessment.next_check.on))
    for finding in assessment.findings:
        if set(finding.places) & set(told):
            detail = {"places": ", ".join(finding.places), "finding": str(finding.kind), "cause": str(finding.cause)}
            reason = EscalationReason.NEW_WATER if finding.kind == FindingKind.REWETTED else EscalationReason.STALLED
            sheet.add(Escalate(reason, Urgency.SOON, detail))
