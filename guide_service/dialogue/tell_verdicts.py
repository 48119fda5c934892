"""What is answered to readings, at the end of a check, and to who asks what the numbers mean; the date comes last."""

from __future__ import annotations

from collections.abc import Sequence

from guide_service.dialogue.context import Context
from guide_service.dialogue.effects import StoreAssessment
from guide_service.dialogue.guards import GUARDS
from guide_service.dialogue.guards_order import closed_walls
from guide_service.dialogue.labels import in_order, letter_of
from guide_service.dialogue.outcome import store_assessment, store_ready
from guide_service.dialogue.saying import Say
from guide_service.dialogue.tell_bands import MOST_LISTED, bands, note
from guide_service.dialogue.tell_findings import findings, forecast
from guide_service.dialogue.tell_numbers import heard
from guide_service.dialogue.tell_reasons import reasons_of_places
from guide_service.dialogue.tell_walls import MOST_WALLS, checklist, not_yet, of_wall, readiness
from guide_service.drying.terms import PlaceKind, Reading


def verdicts(sheet: Context) -> Sequence[Say]:
    """The answer about the places of this text, stored as it is told."""
    told = tuple(sheet.touched)
    says = [*heard(sheet), *bands(sheet, told), *_flooded(sheet), *note(sheet, told)]
    says += [*findings(sheet, told), *forecast(sheet, told)]
    store_assessment(sheet, told)
    sheet.touched = []
    return says if _picture_follows(sheet) else [*says, *_next_check(sheet)]


def told_of(sheet: Context, readings: Sequence[Reading]) -> list[Say]:
    """What stands of the places that an agent's entry touched, stored as it is told, with the next check."""
    told = tuple(sheet.touched)
    today = any(reading.place in told and reading.taken_on == sheet.facts.today for reading in readings)
    says = [*bands(sheet, told, today=today), *note(sheet, told), *findings(sheet, told), *forecast(sheet, told)]
    store_assessment(sheet, told)
    return [*says, *_next_check(sheet)]


def _picture_follows(sheet: Context) -> bool:
    """Whether the check ends with this text, so that the date comes at the end of the whole picture."""
    asked = GUARDS["setting_known"](sheet) and GUARDS["block_known"](sheet)
    return asked and sheet.round_since() is not None and not sheet.missing() and sheet.below_once() is None


def picture(sheet: Context) -> Sequence[Say]:
    """The end of a check: all places together, ready or what is missing for it, and the date."""
    if not any(isinstance(effect, StoreAssessment) for effect in sheet.effects):
        today = sheet.facts.today
        store_assessment(sheet, tuple(dict.fromkeys(r.place for r in sheet.readings() if r.taken_on == today)))
    store_ready(sheet)
    counts = _counts(sheet)
    says: list[Say] = []
    if sum(counts.values()) > 1:
        says.append(Say("picture.counts", {band: counts[band] for band in ("wet", "caution", "dry")}))
    if missing := [label for label, _points in sheet.missing()]:
        says.append(Say("picture.missing", {"list": ", ".join(missing[:MOST_LISTED])}))
    says += readiness(sheet, sheet.assessment().walls)
    return [*says, *_next_check(sheet)]


def _counts(sheet: Context) -> dict[str, int]:
    followed = {place.label for place in sheet.followed() if place.kind != PlaceKind.REFERENCE}
    read = [str(v.band) for v in sheet.assessment().verdicts if v.place in followed]
    return {band: read.count(band) for band in ("wet", "caution", "dry")}


def status(sheet: Context) -> Sequence[Say]:
    if not sheet.facts.readings:
        return [Say("status.none"), *_next_check(sheet)]
    labels = in_order(place.label for place in sheet.followed())
    closed = closed_walls(sheet)
    ready = [place for w in sheet.assessment().walls if w.ready and w.wall not in closed for place in w.covers]
    last = max(reading.taken_on for reading in sheet.facts.readings)
    says = [Say("status.when", {"date": last}), *bands(sheet, labels, today=last == sheet.facts.today)]
    says += _flooded(sheet)
    if (sheet.facts.today - last).days > sheet.facts.policy.reading_max_age_days:
        says.append(Say("status.old"))
    if ready:
        says.append(Say("status.ready", {"list": ", ".join(ready)}))
    if sheet.facts.circumstances.mould_open:
        says.append(Say("mould.still_open"))
    return [*says, *_next_check(sheet)]


def _flooded(sheet: Context) -> list[Say]:
    """Why numbers that were sent say nothing any more."""
    on = sheet.facts.circumstances.flooded_again_on
    void = on is not None and bool(sheet.readings()) and all(r.taken_on <= on for r in sheet.readings())
    return [Say("new_water.why", {"flooded": on})] if void and on is not None else []


def water_noted(sheet: Context) -> Sequence[Say]:
    """What new water does to the numbers, and when to measure next."""
    return [Say("new_water.noted"), *_next_check(sheet)]


def water_undone(sheet: Context) -> Sequence[Say]:
    """It was no new water: the numbers stand as before."""
    return [Say("new_water.undone"), *status(sheet)]


def may_it_be_closed(sheet: Context) -> Sequence[Say]:
    """ "Can I close it?", from the household's own readings: what holds each wall, or what comes before closing."""
    assessment = sheet.assessment()
    says: list[Say] = []
    for wall in assessment.walls:
        says += of_wall(sheet, wall) or [not_yet(sheet, wall)]
    says += checklist(sheet, assessment.walls)
    return [*says[:MOST_WALLS], *_next_check(sheet)] if says else [Say("status.none")]


def why(sheet: Context) -> Sequence[Say]:
    """What holds the walls last read, the reason of the wettest places, and the one behind the limit."""
    labels = list(dict.fromkeys(r.place for r in sheet.facts.last_readings)) or [p.label for p in sheet.followed()]
    limit = Say("why.limit", {"limit": sheet.facts.policy.dry_below_mc})
    if not sheet.facts.readings:
        return [limit, Say("why.nothing", {"place": labels[0] if labels else "K1"})]
    letters = {letter_of(label) for label in labels}
    walls = [wall for wall in sheet.assessment().walls if wall.wall in letters]
    held = [not_yet(sheet, wall) for wall in walls if not wall.ready]
    ready = [say for wall in walls if wall.ready for say in of_wall(sheet, wall)]
    return [*ready, *reasons_of_places(sheet, labels), *held, limit][:MOST_WALLS]


def _next_check(sheet: Context) -> list[Say]:
    visit = sheet.next_check()
    on = visit.on if visit else None
    if on is None and _flooded(sheet):
        on = sheet.facts.next_check_on
    return [Say("next_check", {"date": on})] if on else []
