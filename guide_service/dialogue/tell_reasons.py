"""Why a verdict is as it is, in words."""

from __future__ import annotations

from collections.abc import Sequence

from guide_service.dialogue.context import Context
from guide_service.dialogue.saying import Argument, Say
from guide_service.drying.assessment import Reason, ReasonCode
from guide_service.drying.meter import assumed_temp_c, temperature_correction
from guide_service.drying.terms import Band

COLD_CORRECTION = 1.0
"""[% MC] The correction for cold from which the answer names the cold. Our choice: a step of a meter's display."""


def reasons_of_places(sheet: Context, labels: Sequence[str]) -> list[Say]:
    says = []
    for verdict in sheet.assessment().verdicts:
        if verdict.place in labels and verdict.reasons and verdict.band != Band.DRY:
            reasons = tuple(reason_said(sheet, reason) for reason in verdict.reasons[:2])
            says.append(Say("why.place", {"place": verdict.place, "reasons": reasons}))
    return says[:2]


def reason_said(sheet: Context, reason: Reason) -> Say:
    args: dict[str, Argument] = {"limit": sheet.facts.policy.dry_below_mc}
    value = reason.args.get("value")
    args["value"] = float(value) if isinstance(value, int | float) else "-"
    names = reason.args.get("places") or reason.args.get("points") or ()
    args["list"] = ", ".join(str(name) for name in names) if isinstance(names, tuple | list) else str(names)
    if reason.code == ReasonCode.MISSING_POINTS and isinstance(names, tuple | list):
        args["list"] = tuple(Say(f"point.{name}") for name in names)
    cold = reason.code == ReasonCode.NOT_SURE_ENOUGH and _is_cold(sheet)
    return Say("reason.not_sure_cold" if cold else f"reason.{reason.code}", args)


def _is_cold(sheet: Context) -> bool:
    """Whether the wood last read was so cold that its numbers are corrected by a per cent and more, which is what keeps
    them from being sure."""
    readings = sheet.readings()
    last = max((reading.taken_on for reading in readings), default=None)
    measured = [r.temp_c for r in readings if r.taken_on == last and r.temp_c is not None]
    known = min(measured) if measured else assumed_temp_c(sheet.facts.air, sheet.facts.circumstances)
    return known is not None and temperature_correction(known) >= COLD_CORRECTION
