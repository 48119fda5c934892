"""Readings in, an assessment out: the one door through which the service asks the science."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from guide_service.drying.assessment import Assessment, NextCheck, PlaceVerdict, Reason, ReasonCode, WallReadiness
from guide_service.drying.bands import BandToday, band_today
from guide_service.drying.closing import Passing, judge_place, judge_wall
from guide_service.drying.history import History, after, by_wall, group
from guide_service.drying.meter import assumed_temp_c
from guide_service.drying.next_check import Due, next_check
from guide_service.drying.policy import Policy
from guide_service.drying.stall import findings_of
from guide_service.drying.terms import Air, Band, Circumstances, Place, PlaceKind, Qualifier, Reading, Wall


def assess(
    places: Sequence[Place],
    walls: Sequence[Wall],
    readings: Sequence[Reading],
    *,
    policy: Policy,
    air: Air,
    circumstances: Circumstances,
    today: date,
) -> Assessment:
    """Everything that the numbers say of one household on one day; pure.

    ``readings`` are all that stand (corrected ones replaced), in the order in which they were taken. Moisture content
    in % of oven-dry mass. Raises ``ValueError`` for a wood reading outside 0 to 100 %.
    """
    assumed_c = assumed_temp_c(air, circumstances)
    everything = group(places, readings, policy, assumed_c, circumstances.treated_confirmed)
    flooded = circumstances.flooded_again_on
    histories = {label: after(history, flooded) for label, history in everything.items()}
    bands = {label: band_today(history, policy) for label, history in histories.items()}
    passing = {label: judge_place(history, policy, circumstances, today) for label, history in histories.items()}
    verdicts = tuple(_verdict(everything[label], histories[label], bands[label], passing[label]) for label in histories)
    readiness = _walls(walls, histories, passing, policy, circumstances, today)
    followed = [history for history in histories.values() if history.place.followed]
    findings = tuple(finding for history in followed for finding in findings_of(history, policy))
    visit = _next_check(readiness, histories, verdicts, readings, policy, circumstances, today)
    return Assessment(verdicts, readiness, visit, findings, policy.version)


def _verdict(everything: History, history: History, today: BandToday, passing: Passing) -> PlaceVerdict:
    reasons = today.reasons
    if len(history.checks) < len(everything.checks) and not history.checks:
        reasons = (Reason(ReasonCode.FLOODED_AGAIN),)
    return PlaceVerdict(
        history.place.label,
        today.band,
        today.worst,
        reasons + tuple(reason for reason in passing.reasons if reason.code not in {r.code for r in reasons}),
        today.readings,
        today.missing,
        passing.passes,
        probability_dry=passing.probability,
    )


def _walls(
    walls: Sequence[Wall],
    histories: Mapping[str, History],
    passing: dict[str, Passing],
    policy: Policy,
    circumstances: Circumstances,
    today: date,
) -> tuple[WallReadiness, ...]:
    of_wall = by_wall(histories)
    labels = frozenset(histories)
    return tuple(
        judge_wall(wall, of_wall.get(wall.id, []), passing, labels, policy, circumstances, today) for wall in walls
    )


def _next_check(
    readiness: Sequence[WallReadiness],
    histories: Mapping[str, History],
    verdicts: Sequence[PlaceVerdict],
    readings: Sequence[Reading],
    policy: Policy,
    circumstances: Circumstances,
    today: date,
) -> NextCheck | None:
    ready = {wall.wall for wall in readiness if wall.ready}
    open_places = [verdict for verdict in verdicts if _is_open(histories[verdict.place].place, ready)]
    days = [check.on for history in histories.values() for check in history.checks]
    if not days and not readings:
        return None
    dues = [_due(verdict) for verdict in open_places]
    return next_check(dues, max(days, default=today), policy, circumstances.cannot_on, today)


def _is_open(place: Place, ready: set[str]) -> bool:
    return place.followed and place.kind is not PlaceKind.REFERENCE and place.wall not in ready


def _due(verdict: PlaceVerdict) -> Due:
    over = verdict.worst is not None and verdict.worst.qualifier is Qualifier.ABOVE
    return Due(verdict.band, over, verdict.band is Band.DRY)
