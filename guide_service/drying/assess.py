"""Readings in, an assessment out: the one door through which the service asks the science."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from guide_service.drying.air_advice import EMC_MARGIN_MC, equilibrium_of, indoor_equilibrium
from guide_service.drying.assessment import (
    Assessment,
    Cause,
    Finding,
    FindingKind,
    Forecast,
    NextCheck,
    PlaceVerdict,
    Reason,
    ReasonCode,
    WallReadiness,
)
from guide_service.drying.bands import BandToday, band_today
from guide_service.drying.closing import STILL_WEIGHED, Passing, Setting, judge_place, judge_wall
from guide_service.drying.course import Course
from guide_service.drying.history import History, after, by_wall, group
from guide_service.drying.meter import assumed_temp_c
from guide_service.drying.next_check import due_of, next_check
from guide_service.drying.outlook import expected, forecasts
from guide_service.drying.policy import Policy
from guide_service.drying.stall import findings_of
from guide_service.drying.terms import Air, Circumstances, Place, PlaceKind, Reading, Wall

NORMALS = "normals"


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
    everything = _everything(places, readings, policy, air, circumstances)
    histories = {label: after(history, circumstances.flooded_again_on) for label, history in everything.items()}
    bands = {label: band_today(history, policy) for label, history in histories.items()}
    setting = Setting(policy, circumstances, today, equilibrium_of(air, circumstances, policy), [*histories.values()])
    passing = {label: judge_place(history, setting) for label, history in histories.items()}
    known_air = indoor_equilibrium(air, circumstances.power_on)
    told = forecasts(histories, {label: band.band for label, band in bands.items()}, known_air, policy)
    verdicts = tuple(
        _verdict(everything[label], histories[label], bands[label], passing[label], told.get(label))
        for label in histories
    )
    readiness = _walls(walls, histories, passing, setting)
    # what is normal for the month says where the wood tends to, never that today's air is too humid
    observed = None if air.source == NORMALS else known_air
    findings = _findings(histories, bands, passing, told, setting, observed)
    visit = _next_check(readiness, histories, verdicts, setting)
    return Assessment(verdicts, readiness, visit, tuple(findings), policy.version)


def expected_course(
    verdict: PlaceVerdict,
    places: Sequence[Place],
    readings: Sequence[Reading],
    *,
    policy: Policy,
    air: Air,
    circumstances: Circumstances,
) -> Course | None:
    """For a picture: the course behind the forecast of a verdict that ``assess`` gave on the same arguments."""
    history = _everything(places, readings, policy, air, circumstances).get(verdict.place)
    if history is None:
        return None
    known_air = indoor_equilibrium(air, circumstances.power_on)
    return expected(after(history, circumstances.flooded_again_on), verdict.forecast, known_air, policy)


def _everything(
    places: Sequence[Place], readings: Sequence[Reading], policy: Policy, air: Air, circumstances: Circumstances
) -> Mapping[str, History]:
    assumed_c = assumed_temp_c(air, circumstances)
    return group(places, readings, policy, assumed_c, circumstances.treated_confirmed)


def _verdict(
    everything: History, history: History, today: BandToday, passing: Passing, told: Forecast | None
) -> PlaceVerdict:
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
        told,
        probability_dry=passing.probability,
    )


def _walls(
    walls: Sequence[Wall],
    histories: Mapping[str, History],
    passing: dict[str, Passing],
    setting: Setting,
) -> tuple[WallReadiness, ...]:
    of_wall = by_wall(histories)
    labels = frozenset(histories)
    return tuple(judge_wall(wall, of_wall.get(wall.id, []), passing, labels, setting) for wall in walls)


def _findings(
    histories: Mapping[str, History],
    bands: Mapping[str, BandToday],
    passing: Mapping[str, Passing],
    forecast: Mapping[str, Forecast],
    setting: Setting,
    known_air: tuple[float, float] | None,
) -> list[Finding]:
    """Findings of places, with the air as their cause where it is known to be too humid, and the air itself."""
    followed = {label: history for label, history in histories.items() if _is_open(history.place, set())}
    found = findings_of(
        followed,
        {label: today.band for label, today in bands.items()},
        {label: outcome.probability for label, outcome in passing.items()},
        forecast,
        setting.policy,
    )
    if known_air is None or known_air[0] <= setting.policy.dry_below_mc - EMC_MARGIN_MC:
        return found
    reason = Reason(ReasonCode.AIR_TOO_HUMID, {"equilibrium": known_air[0], "limit": setting.policy.dry_below_mc})
    slow = (FindingKind.STALLED, FindingKind.TOO_SLOW, FindingKind.LIMIT_OUT_OF_REACH)
    found = [replace(one, cause=Cause.HUMID_AIR) if one.kind in slow else one for one in found]
    not_ready = tuple(label for label in followed if not passing[label].passes)
    return [Finding(FindingKind.AIR_TOO_HUMID, not_ready, Cause.HUMID_AIR, (reason,)), *found]


def _next_check(
    readiness: Sequence[WallReadiness],
    histories: Mapping[str, History],
    verdicts: Sequence[PlaceVerdict],
    setting: Setting,
) -> NextCheck | None:
    ready = {wall.wall for wall in readiness if wall.ready}
    dues = [
        due_of(
            history.place.wall,
            verdict.band,
            history.checks,
            verdict.probability_dry,
            any(reason.code in STILL_WEIGHED for reason in verdict.reasons),
            setting.policy,
        )
        for verdict in verdicts
        if _is_open((history := histories[verdict.place]).place, ready)
    ]
    days = [check.on for history in histories.values() for check in history.checks]
    if not days:
        return None
    return next_check(dues, max(days), setting.policy, setting.circumstances.cannot_on, setting.today)


def _is_open(place: Place, ready: set[str]) -> bool:
    return place.followed and place.kind is not PlaceKind.REFERENCE and place.wall not in ready
