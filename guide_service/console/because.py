"""Why something stands on the waiting list, in short facts: what the guide knew when it raised it."""

from __future__ import annotations

import datetime as dt

from guide_service.console import times
from guide_service.console.catalogue import N_, gettext
from guide_service.dialogue.effects import EscalationReason
from guide_service.records import Escalation


def because(escalation: Escalation) -> list[str]:
    """Each a short fact of its own; none where the reason says it all."""
    told = {name: str(value) for name, value in escalation.detail.items()}
    match escalation.reason:
        case EscalationReason.METER_OVERDUE:
            due = times.day(dt.date.fromisoformat(told["due"])) if "due" in told else "?"
            return [gettext(N_("meter %(meter)s, due back %(day)s")) % {"meter": told.get("meter", "?"), "day": due}]
        case _:
            return []
