"""Whether a wall may be closed: what is said of one that meets the limit, and what holds one that does not.

Reading dry today and being ready to close are two wordings, and the second is said only of a wall whose every place the
assessment calls ready; it names the places that it covers.
"""

from __future__ import annotations

from collections.abc import Sequence

from guide_service.dialogue.context import Context
from guide_service.dialogue.guards_order import closed_walls
from guide_service.dialogue.labels import in_order
from guide_service.dialogue.saying import Say
from guide_service.dialogue.tell_bands import is_of_today
from guide_service.dialogue.tell_reasons import reason_said
from guide_service.drying.assessment import PlaceVerdict, ReasonCode, WallReadiness
from guide_service.drying.terms import Band
from guide_service.wording.formats import capital

LAST_STEPS = frozenset({ReasonCode.BAYS_UNKNOWN, ReasonCode.SWEEP_NEEDED})
"""Reasons that matter once all followed places read dry."""
MOST_WALLS = 6
"""Sentences about walls in one answer."""


def readiness(sheet: Context, walls: Sequence[WallReadiness]) -> list[Say]:
    says: list[Say] = []
    for wall in walls:
        says += of_wall(sheet, wall)
    says += checklist(sheet, walls)
    return says[:MOST_WALLS]


def checklist(sheet: Context, walls: Sequence[WallReadiness]) -> list[Say]:
    """What comes before closing, where a wall that is open meets the limit."""
    closed = closed_walls(sheet)
    lapses = [wall.lapses_on for wall in walls if wall.ready and wall.lapses_on and wall.wall not in closed]
    return [Say("ready.checklist", {"date": min(lapses)}, own_text=True)] if lapses else []


def not_yet(sheet: Context, wall: WallReadiness) -> Say:
    """Of a wall that may not even read dry: what holds it."""
    telling = [one for one in wall.reasons if one.code not in LAST_STEPS or _all_dry(sheet, wall.wall)]
    first = (telling or list(wall.reasons))[:1]
    reason = reason_said(sheet, first[0]) if first else Say("reason.one_round_only")
    return Say("ready.no", {"wall": capital(sheet.wall_name(wall.wall)), "reason": reason})


def of_wall(sheet: Context, wall: WallReadiness) -> list[Say]:
    """Of a wall whose every followed place reads dry: that it meets the limit, or the last step; else nothing."""
    room = sheet.wall_name(wall.wall)
    name = capital(room)
    if wall.ready and wall.wall in closed_walls(sheet):
        return [Say("ready.closed", {"wall": name, "office": sheet.facts.county.office_name})]
    if wall.ready:
        return [Say("ready.wall", {"wall": name, "list": ", ".join(in_order(wall.covers))})]
    if not _all_dry(sheet, wall.wall):
        return []
    if wall.sweep:
        return [Say("ready.sweep", {"wall": room, "list": ", ".join(wall.sweep), "example": wall.sweep[0]})]
    reason = reason_said(sheet, wall.reasons[0]) if wall.reasons else Say("reason.one_round_only")
    id_ = "ready.not_yet" if _dry_today(sheet, wall.wall) else "ready.no"
    return [Say(id_, {"wall": name, "reason": reason})]


def _all_dry(sheet: Context, letter: str) -> bool:
    read = _of_followed(sheet, letter)
    return bool(read) and all(verdict.band == Band.DRY for verdict in read)


def _dry_today(sheet: Context, letter: str) -> bool:
    return all(is_of_today(sheet, verdict) for verdict in _of_followed(sheet, letter))


def _of_followed(sheet: Context, letter: str) -> list[PlaceVerdict]:
    labels = {place.label for place in sheet.followed() if place.wall == letter}
    return [verdict for verdict in sheet.assessment().verdicts if verdict.place in labels]
