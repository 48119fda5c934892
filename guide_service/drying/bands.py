"""The band of a place today: its worst wood point decides, everything else can only make it worse.

Rules of this file
- Limits come from the county's policy: dry below 15.0, wet above 20.0, caution between (both ends caution).
- The latest check decides. A check that nobody of the household has confirmed never improves on the last confirmed one.
- Relative, pinless, colour and failed-meter readings can make the band worse, never better.
"""

from __future__ import annotations

from typing import NamedTuple

from guide_service.drying.assessment import Reason, ReasonCode, WorstPoint
from guide_service.drying.history import Check, History, is_treated_plate, required_points, wetness
from guide_service.drying.meter import Judged, Weight, over_range_unsaid
from guide_service.drying.policy import Policy
from guide_service.drying.terms import RELATIVE_MATERIALS, Band, Place, Point, Qualifier

SEVERITY = {Band.UNREAD: 0, Band.DRY: 1, Band.CAUTION: 2, Band.WET: 3}
COLOUR_BANDS = {"red": Band.WET, "yellow": Band.CAUTION}


class BandToday(NamedTuple):
    band: Band
    worst: WorstPoint | None
    reasons: tuple[Reason, ...]
    readings: tuple[str, ...]
    missing: tuple[Point, ...]


def band_of(mc: float, qualifier: Qualifier, policy: Policy) -> Band:
    """Band of one wood number [% MC]; over range is wet, below range is below its bound."""
    if qualifier is Qualifier.ABOVE or mc > policy.wet_above_mc:
        return Band.WET
    return Band.DRY if mc < policy.dry_below_mc else Band.CAUTION


def worsening_band(judged: Judged, policy: Policy) -> Band:
    """Band that a reading which can only worsen pulls a place down to; ``UNREAD`` = no effect."""
    reading = judged.reading
    if over_range_unsaid(reading):
        return Band.CAUTION if reading.material in RELATIVE_MATERIALS else Band.WET
    if reading.value is None:
        return COLOUR_BANDS.get(reading.colour or "", Band.UNREAD)
    if reading.qualifier is Qualifier.BELOW:
        return Band.UNREAD
    band = band_of(judged.mc, reading.qualifier, policy)
    if band is Band.DRY:
        return Band.UNREAD
    # A relative scale is no measure of wetness: it says "not as dry as it should be", no more.
    return Band.CAUTION if reading.material in RELATIVE_MATERIALS else band


def band_today(history: History, policy: Policy) -> BandToday:
    """Band, deciding point, reasons, readings behind them and points not read, of one place."""
    used = _checks_that_speak(history)
    if not used:
        return BandToday(Band.UNREAD, None, (Reason(ReasonCode.NO_READING),), (), ())
    latest = used[-1]
    deciding = max((check.top for check in used if check.top is not None), key=wetness, default=None)
    band = Band.UNREAD if deciding is None else band_of(deciding.mc, deciding.reading.qualifier, policy)
    reasons = _wood_reasons(history.place, used, deciding)
    others = [judged for check in used for judged in check.others]
    band = _worsen(band, others, reasons, policy)
    read = set(latest.wood) | {judged.reading.point for judged in latest.aside}
    missing = tuple(point for point in required_points(history.place, policy) if point not in read)
    if missing:
        reasons.append(Reason(ReasonCode.MISSING_POINTS, {"points": missing}))
    everything = [(*check.wood.values(), *check.aside, *check.others) for check in used]
    ids = tuple(judged.reading.id for judgeds in everything for judged in judgeds)
    return BandToday(band, _worst_point(deciding), tuple(reasons), ids, missing)


def _checks_that_speak(history: History) -> list[Check]:
    """The latest check and, where its numbers do not count in full, the last one whose numbers do."""
    checks = history.checks
    if not checks or _counts(checks[-1]):
        return checks[-1:]
    earlier = next((check for check in reversed(checks[:-1]) if _counts(check)), None)
    return [checks[-1]] if earlier is None else [earlier, checks[-1]]


def _counts(check: Check) -> bool:
    """Whether its numbers say how the wood is today. While the setting is still being asked they do, for the band
    alone: a first check without an answer is shown as it reads, and so is every later one; neither passes a place."""
    return bool(check.wood) and all(
        judged.weight is Weight.COUNTS or judged.reason is ReasonCode.MODE_NOT_ASKED for judged in check.wood.values()
    )


def _wood_reasons(place: Place, used: list[Check], deciding: Judged | None) -> list[Reason]:
    reasons: list[Reason] = []
    if deciding is not None:
        over = deciding.reading.qualifier is Qualifier.ABOVE
        code = ReasonCode.OVER_RANGE if over else ReasonCode.WORST_POINT
        reasons.append(Reason(code, {"point": deciding.reading.point, "value": deciding.reading.value}))
    judged = [one for check in used for one in (*check.wood.values(), *check.aside)]
    codes = {one.reason for one in judged if one.reason is not None}
    reasons.extend(Reason(code) for code in sorted(codes))
    if any(is_treated_plate(place, one) for one in judged):
        reasons.append(Reason(ReasonCode.TREATED_READS_HIGH))
    return reasons


def _worsen(band: Band, others: list[Judged], reasons: list[Reason], policy: Policy) -> Band:
    """Apply the readings that can only worsen; the reasons found are appended."""
    for judged in others:
        pulled = worsening_band(judged, policy)
        args = {"point": judged.reading.point, "value": judged.reading.value, "material": judged.reading.material}
        if SEVERITY[pulled] > SEVERITY[band]:
            band = pulled
            own = None if judged.reading.material in RELATIVE_MATERIALS else judged.reason
            reasons.append(Reason(own or ReasonCode.RELATIVE_WORSENS, args))
        elif judged.reason is not None:
            reasons.append(Reason(judged.reason, args))
        else:
            reasons.append(Reason(ReasonCode.BELOW_RANGE_UNPROVEN, args))
    return band


def _worst_point(deciding: Judged | None) -> WorstPoint | None:
    if deciding is None or deciding.reading.value is None:
        return None
    reading, value = deciding.reading, deciding.reading.value
    return WorstPoint(reading.id, reading.point, value, reading.qualifier, deciding.mc)
