"""The band of each place that is told about, and the one note that must be read with it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from guide_service.dialogue.context import Context
from guide_service.dialogue.saying import Argument, Say
from guide_service.dialogue.tell_numbers import qualified
from guide_service.drying.assessment import PlaceVerdict, ReasonCode
from guide_service.drying.terms import Band, PlaceKind

MOST_LISTED = 10
"""Places named in one line."""
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


def bands(sheet: Context, labels: Iterable[str], *, today: bool = True) -> list[Say]:
    """A line for each band; dry is of its day, so what was read earlier is told as past.

    Wood that stayed dry is no place to dry: it shows what dry is, or, when it reads high, it does not serve for that.
    """
    references = {place.label for place in sheet.places if place.kind == PlaceKind.REFERENCE}
    wanted = set(labels)
    says = [_reference(v) for v in sheet.assessment().verdicts if v.place in wanted & references and _is_high(v)]
    wanted -= {say.args["place"] for say in says}
    for band in (Band.WET, Band.CAUTION, Band.DRY, Band.UNREAD):
        places = [v for v in sheet.assessment().verdicts if v.place in wanted and v.band == band]
        then = [v for v in places if band == Band.DRY and not (today and is_of_today(sheet, v))]
        says += _band([v for v in places if v not in then], band, today=True) + _band(then, band, today=False)
    return says


def _band(places: list[PlaceVerdict], band: Band, *, today: bool) -> list[Say]:
    if len(places) < 2:
        return [_one(place, today) for place in places]
    items = tuple(_item(v) for v in places[:MOST_LISTED])
    return [Say(f"verdict.{band}_many{'' if today else '_then'}", {"list": items})]


def is_of_today(sheet: Context, verdict: PlaceVerdict) -> bool:
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
    return qualified(verdict.worst.value, verdict.worst.qualifier)


def note(sheet: Context, labels: Sequence[str]) -> list[Say]:
    codes = {reason.code for v in sheet.assessment().verdicts if v.place in labels for reason in v.reasons}
    return [Say(f"note.{code}") for code in _NOTES if code in codes][:1]
