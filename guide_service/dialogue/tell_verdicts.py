"""The answer to readings: what was understood, the band with its action, the whole picture, ready or not, the date.

Reading dry today and being ready to close are two wordings, and the second is said only of a wall whose every place the
assessment calls ready; it names the places that it covers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from guide_service.dialogue.context import Context, label_order
from guide_service.dialogue.effects import StoreAssessment
from guide_service.dialogue.guards import GUARDS
from guide_service.dialogue.guards_order import closed_walls
from guide_service.dialogue.labels import number_of
from guide_service.dialogue.outcome import ABOUT_THE_AIR, flat_treated_plates, reason_of, store_assessment, store_ready
from guide_service.dialogue.saying import Argument, Say
from guide_service.drying.assessment import (
    FindingKind,
    ForecastKind,
    PlaceVerdict,
    Reason,
    ReasonCode,
    WallReadiness,
)
from guide_service.drying.meter import assumed_temp_c, temperature_correction
from guide_service.drying.terms import BAY_POINTS, Band, PlaceKind, Point, Qualifier, Reading

MOST_LISTED = 10
COLD_CORRECTION = 1.0
"""[% MC] The correction for cold from which the answer names the cold. Our choice: a step of a meter's display."""
LAST_STEPS = frozenset({ReasonCode.BAYS_UNKNOWN, ReasonCode.SWEEP_NEEDED})
"""Reasons that matter once all followed places read dry."""
MOST_WALLS = 6
"""Sentences about walls in one answer."""
_NOTES = (
    ReasonCode.METER_RECALLED,
    ReasonCode.METER_FAILED_CHECK,
    ReasonCode.NOT_WOOD_SETTING,
    ReasonCode.BELOW_RANGE_UNPROVEN,
    ReasonCode.RELATIVE_ONLY,
    ReasonCode.RELATIVE_WORSENS,
    ReasonCode.TREATED_READS_HIGH,
    ReasonCode.OVER_RANGE,
    ReasonCode.AIR_TOO_HUMID,
    ReasonCode.UNCONFIRMED,
)
"""Reasons that a person must read with the verdict, the most telling first; one of them is said."""


_TODAY_IS_NOTHING = frozenset(
    {
        ReasonCode.METER_FAILED_CHECK,
        ReasonCode.METER_RECALLED,
        ReasonCode.NOT_WOOD_SETTING,
        ReasonCode.MODE_NOT_ASKED,
        ReasonCode.RELATIVE_ONLY,
        ReasonCode.BELOW_RANGE_UNPROVEN,
    }
)
"""Reasons for which a low number of a visit counts for nothing."""


def verdicts(sheet: Context) -> Sequence[Say]:
    """The answer about the places of this text, stored as it is told."""
    told = tuple(sheet.touched)
    says = [*_heard(sheet), *_bands(sheet, told), *_flooded(sheet), *_note(sheet, told)]
    says += [*_findings(sheet, told), *_forecast(sheet, told)]
    store_assessment(sheet, told)
    sheet.touched = []
    return says if _picture_follows(sheet) else [*says, *_next_check(sheet)]


def told_of(sheet: Context, readings: Sequence[Reading]) -> list[Say]:
    """What stands of the places that an agent's entry touched, stored as it is told, with the next check."""
    told = tuple(sheet.touched)
    today = any(reading.place in told and reading.taken_on == sheet.facts.today for reading in readings)
    says = [*_bands(sheet, told, today=today), *_note(sheet, told), *_findings(sheet, told), *_forecast(sheet, told)]
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
        says.append(Say("picture.missing", {"list": _join(missing[:MOST_LISTED])}))
    says += _readiness(sheet, sheet.assessment().walls)
    return [*says, *_next_check(sheet)]


def status(sheet: Context) -> Sequence[Say]:
    if not sheet.facts.readings:
        return [Say("status.none"), *_next_check(sheet)]
    labels = [place.label for place in sorted(sheet.followed(), key=label_order)]
    closed = closed_walls(sheet)
    ready = [place for w in sheet.assessment().walls if w.ready and w.wall not in closed for place in w.covers]
    last = max(reading.taken_on for reading in sheet.facts.readings)
    says = [Say("status.when", {"date": last}), *_bands(sheet, labels, today=last == sheet.facts.today)]
    says += _flooded(sheet)
    if (sheet.facts.today - last).days > sheet.facts.policy.reading_max_age_days:
        says.append(Say("status.old"))
    if ready:
        says.append(Say("status.ready", {"list": _join(ready)}))
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
        says += _of_wall(sheet, wall) or [_not_yet(sheet, wall)]
    says += _checklist(sheet, assessment.walls)
    return [*says[:MOST_WALLS], *_next_check(sheet)] if says else [Say("status.none")]


def why(sheet: Context) -> Sequence[Say]:
    """What holds the walls last read, the reason of the wettest places, and the one behind the limit."""
    labels = list(dict.fromkeys(r.place for r in sheet.facts.last_readings)) or [p.label for p in sheet.followed()]
    limit = Say("why.limit", {"limit": sheet.facts.policy.dry_below_mc})
    if not sheet.facts.readings:
        return [limit, Say("why.nothing", {"place": labels[0] if labels else "K1"})]
    letters = {label.rstrip("0123456789") for label in labels}
    walls = [wall for wall in sheet.assessment().walls if wall.wall in letters]
    held = [_not_yet(sheet, wall) for wall in walls if not wall.ready]
    ready = [say for wall in walls if wall.ready for say in _of_wall(sheet, wall)]
    return [*ready, *_why_reasons(sheet, labels), *held, limit][:MOST_WALLS]


# --- what was understood ------------------------------------------------------------------------------------------


def _heard(sheet: Context) -> list[Say]:
    by_place: dict[str, list[Reading]] = {}
    for new in sheet.new_readings:
        by_place.setdefault(new.reading.place, []).append(new.reading)
    if not by_place:
        return []
    items = tuple(Say("heard.place", {"place": label, "values": values_of(rows)}) for label, rows in by_place.items())
    says = [Say("correction.done")] if any(new.replaces for new in sheet.new_readings) else []
    says.append(Say("heard.list", {"list": items}))
    says += _named(sheet)
    days = {new.reading.taken_on for new in sheet.new_readings} - {sheet.facts.today}
    says += [Say("heard.yesterday", {"date": day}) for day in sorted(days)]
    return says


def _named(sheet: Context) -> list[Say]:
    """Places that the text itself brought in, when the person used other words than our label."""
    before = {wall.id for wall in sheet.facts.walls}
    new = [place for place in sheet.places if place.wall not in before]
    rooms = {wall.id: wall.name for wall in sheet.walls}
    names = [(rooms.get(place.wall, place.wall), place.label) for place in new if rooms.get(place.wall) != place.wall]
    items = tuple(Say("heard.name", {"room": room, "place": label}) for room, label in names)
    return [Say("heard.named", {"list": items})] if items and sheet.new_readings else []


def values_of(readings: list[Reading]) -> Argument:
    """ "22 19 17" for a whole bay in order, otherwise each number with its point."""
    if tuple(r.point for r in readings) == BAY_POINTS and all(r.qualifier == Qualifier.EXACT for r in readings):
        return Say("heard.three", {f"v{n}": number_said(r) for n, r in enumerate(readings, 1)})
    if len(readings) == 1 and readings[0].point in {Point.WOOD, Point.SURFACE}:
        return number_said(readings[0])
    return tuple(Say("heard.at", {"point": Say(f"point.{r.point}"), "value": number_said(r)}) for r in readings)


def number_said(reading: Reading) -> Argument:
    """A number as it is said back, with its qualifier; a colour where there was none."""
    if reading.value is None:
        return Say(f"heard.{reading.colour or 'green'}") if reading.colour else Say("heard.over_unsaid")
    if reading.qualifier == Qualifier.ABOVE:
        return Say("heard.over", {"value": reading.value})
    if reading.qualifier == Qualifier.BELOW:
        return Say("heard.below", {"value": reading.value})
    return reading.value


# --- bands --------------------------------------------------------------------------------------------------------


def _bands(sheet: Context, labels: Iterable[str], *, today: bool = True) -> list[Say]:
    """A line for each band; dry is of its day, so what was read earlier is told as past.

    Wood that stayed dry is no place to dry: it shows what dry is, or, when it reads high, it does not serve for that.
    """
    references = {place.label for place in sheet.places if place.kind == PlaceKind.REFERENCE}
    wanted = set(labels)
    says = [_reference(v) for v in sheet.assessment().verdicts if v.place in wanted & references and _is_high(v)]
    wanted -= {say.args["place"] for say in says}
    for band in (Band.WET, Band.CAUTION, Band.DRY, Band.UNREAD):
        places = [v for v in sheet.assessment().verdicts if v.place in wanted and v.band == band]
        then = [v for v in places if band == Band.DRY and not (today and _is_of_today(sheet, v))]
        says += _band([v for v in places if v not in then], band, today=True) + _band(then, band, today=False)
    return says


def _band(places: list[PlaceVerdict], band: Band, *, today: bool) -> list[Say]:
    if len(places) < 2:
        return [_one(place, today) for place in places]
    items = tuple(_item(v) for v in places[:MOST_LISTED])
    return [Say(f"verdict.{band}_many{'' if today else '_then'}", {"list": items})]


def _is_of_today(sheet: Context, verdict: PlaceVerdict) -> bool:
    """Not where the numbers of today count for nothing, so that the verdict rests on those of an earlier day."""
    days = {reading.id: reading.taken_on for reading in sheet.readings() if reading.place == verdict.place}
    if verdict.worst is not None and days.get(verdict.worst.reading) != sheet.facts.today:
        read_now = sheet.facts.today in days.values()
        return read_now and not any(reason.code in _TODAY_IS_NOTHING for reason in verdict.reasons)
    return True


def _is_high(verdict: PlaceVerdict) -> bool:
    """Wood that was never wet reads below the limit in a house that is lived in (common practice: 6 to 14 %)."""
    return verdict.worst is not None and verdict.band in {Band.WET, Band.CAUTION}


def _reference(verdict: PlaceVerdict) -> Say:
    return Say("reference.high", {"place": verdict.place, "value": _worst(verdict)})


def _over_unsaid(verdict: PlaceVerdict) -> bool:
    """Wet by a point over the range that shows no number: the highest number there is would be another point's."""
    return verdict.band == Band.WET and any(
        reason.code == ReasonCode.OVER_RANGE and reason.args.get("value") is None for reason in verdict.reasons
    )


def _one(verdict: PlaceVerdict, today: bool) -> Say:
    if verdict.worst is None or _over_unsaid(verdict):
        id_ = "verdict.unread" if verdict.band == Band.UNREAD else f"verdict.{verdict.band}_relative"
        return Say(id_, {"place": verdict.place})
    args = {"place": verdict.place, "value": _worst(verdict), "point": Say(f"point.{verdict.worst.point}")}
    if verdict.band == Band.UNREAD:
        return Say("verdict.unread", {"place": verdict.place})
    return Say("verdict.dry_then" if verdict.band == Band.DRY and not today else f"verdict.{verdict.band}", args)


def _item(verdict: PlaceVerdict) -> Say:
    if verdict.worst is None or _over_unsaid(verdict):
        return Say("verdict.name", {"place": verdict.place})
    return Say("verdict.item", {"place": verdict.place, "value": _worst(verdict)})


def _worst(verdict: PlaceVerdict) -> Argument:
    assert verdict.worst is not None
    if verdict.worst.qualifier == Qualifier.ABOVE:
        return Say("heard.over", {"value": verdict.worst.value})
    if verdict.worst.qualifier == Qualifier.BELOW:
        return Say("heard.below", {"value": verdict.worst.value})
    return verdict.worst.value


def _note(sheet: Context, labels: Sequence[str]) -> list[Say]:
    codes = {reason.code for v in sheet.assessment().verdicts if v.place in labels for reason in v.reasons}
    return [Say(f"note.{code}") for code in _NOTES if code in codes][:1]


def _findings(sheet: Context, labels: Sequence[str]) -> list[Say]:
    says = []
    for finding in sheet.assessment().findings:
        if not set(finding.places) & set(labels):
            continue
        if finding.kind in ABOUT_THE_AIR:
            says.append(Say("note.air_too_humid"))
            continue
        if reason_of(finding) in sheet.facts.escalations:
            says.append(Say("finding.known", {"list": _join(finding.places)}))
            continue
        office = sheet.facts.county.office_name
        checks = len({r.taken_on for r in sheet.readings() if r.place in finding.places})
        args: dict[str, Argument] = {"list": _join(finding.places), "office": office}
        says.append(_found(finding.kind, args, checks))
    flat = flat_treated_plates(sheet, labels)
    if flat:
        says.append(Say("finding.treated", {"list": _join(flat), "office": sheet.facts.county.office_name}))
    return says[:2]


def _found(kind: FindingKind, args: Mapping[str, Argument], checks: int) -> Say:
    if kind == FindingKind.REWETTED:
        return Say("finding.rewetted", args)
    if kind == FindingKind.TOO_SLOW:
        return Say("finding.slow", args)
    return Say("finding.stalled", {**args, "checks": checks})


def _forecast(sheet: Context, labels: Sequence[str]) -> list[Say]:
    """The slowest of the places told about: a range, never a day."""
    dated = [v for v in sheet.assessment().verdicts if v.place in labels and v.forecast is not None]
    for verdict in dated:
        if verdict.forecast and verdict.forecast.kind == ForecastKind.AIR_CANNOT_DRY:
            return [Say("forecast.air", {"place": verdict.place})]
    ranges = [v for v in dated if v.forecast and v.forecast.kind == ForecastKind.DATE and v.band != Band.DRY]
    slowest = max(ranges, key=lambda v: v.forecast.latest, default=None)  # type: ignore[union-attr,return-value,arg-type]
    if (
        slowest is None
        or slowest.forecast is None
        or slowest.forecast.earliest is None
        or slowest.forecast.latest is None
    ):
        return []
    args: dict[str, Argument] = {
        "place": slowest.place,
        "earliest": slowest.forecast.earliest,
        "latest": slowest.forecast.latest,
    }
    return [Say("forecast.range", args)]


# --- the whole picture --------------------------------------------------------------------------------------------


def _counts(sheet: Context) -> dict[str, int]:
    followed = {place.label for place in sheet.followed() if place.kind != PlaceKind.REFERENCE}
    bands = [str(v.band) for v in sheet.assessment().verdicts if v.place in followed]
    return {band: bands.count(band) for band in ("wet", "caution", "dry")}


def _readiness(sheet: Context, walls: Sequence[WallReadiness]) -> list[Say]:
    says: list[Say] = []
    for wall in walls:
        says += _of_wall(sheet, wall)
    says += _checklist(sheet, walls)
    return says[:MOST_WALLS]


def _checklist(sheet: Context, walls: Sequence[WallReadiness]) -> list[Say]:
    """What comes before closing, where a wall that is open meets the limit."""
    closed = closed_walls(sheet)
    lapses = [wall.lapses_on for wall in walls if wall.ready and wall.lapses_on and wall.wall not in closed]
    return [Say("ready.checklist", {"date": min(lapses)}, own_text=True)] if lapses else []


def _not_yet(sheet: Context, wall: WallReadiness) -> Say:
    """Of a wall that may not even read dry: what holds it."""
    known = sheet.wall(wall.wall)
    telling = [one for one in wall.reasons if one.code not in LAST_STEPS or _all_dry(sheet, wall.wall)]
    first = (telling or list(wall.reasons))[:1]
    reason = _reason(sheet, first[0]) if first else Say("reason.one_round_only")
    return Say("ready.no", {"wall": _sentence_start(known.name if known else wall.wall), "reason": reason})


def _of_wall(sheet: Context, wall: WallReadiness) -> list[Say]:
    known = sheet.wall(wall.wall)
    room = known.name if known else wall.wall
    name = _sentence_start(room)
    if wall.ready and wall.wall in closed_walls(sheet):
        return [Say("ready.closed", {"wall": name, "office": sheet.facts.county.office_name})]
    if wall.ready:
        return [Say("ready.wall", {"wall": name, "list": _join(in_order(wall.covers))})]
    if not _all_dry(sheet, wall.wall):
        return []
    if wall.sweep:
        return [Say("ready.sweep", {"wall": room, "list": _join(wall.sweep), "example": wall.sweep[0]})]
    reason = _reason(sheet, wall.reasons[0]) if wall.reasons else Say("reason.one_round_only")
    id_ = "ready.not_yet" if _dry_today(sheet, wall.wall) else "ready.no"
    return [Say(id_, {"wall": name, "reason": reason})]


def _dry_today(sheet: Context, letter: str) -> bool:
    labels = {place.label for place in sheet.followed() if place.wall == letter}
    return all(_is_of_today(sheet, verdict) for verdict in sheet.assessment().verdicts if verdict.place in labels)


def _all_dry(sheet: Context, letter: str) -> bool:
    labels = {place.label for place in sheet.followed() if place.wall == letter}
    bands = [v.band for v in sheet.assessment().verdicts if v.place in labels]
    return bool(bands) and all(band == Band.DRY for band in bands)


def _next_check(sheet: Context) -> list[Say]:
    visit = sheet.next_check()
    on = visit.on if visit else None
    if on is None and _flooded(sheet):
        on = sheet.facts.next_check_on
    return [Say("next_check", {"date": on})] if on else []


# --- why ----------------------------------------------------------------------------------------------------------


def _why_reasons(sheet: Context, labels: Sequence[str]) -> list[Say]:
    says = []
    for verdict in sheet.assessment().verdicts:
        if verdict.place in labels and verdict.reasons and verdict.band != Band.DRY:
            reasons = tuple(_reason(sheet, reason) for reason in verdict.reasons[:2])
            says.append(Say("why.place", {"place": verdict.place, "reasons": reasons}))
    return says[:2]


def _reason(sheet: Context, reason: Reason) -> Say:
    args: dict[str, Argument] = {"limit": sheet.facts.policy.dry_below_mc}
    value = reason.args.get("value")
    args["value"] = float(value) if isinstance(value, int | float) else "-"
    names = reason.args.get("places") or reason.args.get("points") or ()
    args["list"] = _join(str(name) for name in names) if isinstance(names, tuple | list) else str(names)
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


def _sentence_start(name: str) -> str:
    return name[:1].upper() + name[1:]


def in_order(labels: Iterable[str]) -> list[str]:
    """K2 before K10."""
    return sorted(labels, key=lambda label: (label.rstrip("0123456789"), number_of(label)))


def _join(items: Iterable[str]) -> str:
    return ", ".join(items)
