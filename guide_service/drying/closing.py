"""Whether a place, and then a whole wall, meets the county's limit: acceptance with a guard band.

Rule (JCGM 106:2012, acceptance with measurement uncertainty): a place passes when the probability that its wettest
point is truly below the limit reaches the policy's confidence on the evidence of its recent rounds, over at least
``policy.rounds`` rounds at least ``policy.days_between_rounds`` days apart that do not rise. Meter, species and spot
are the same at every round: only the noise of a push shrinks with more readings.

Exceptions, all towards caution: a place never passes on numbers that do not count in full, with points missing, with
any relative reading that worsens, within ``WASH_DAYS`` of washing, or on readings older than the policy allows.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from guide_service.drying.assessment import Reason, ReasonCode, WallReadiness
from guide_service.drying.bands import worsening_band
from guide_service.drying.evidence import Floor, Level, household_floor, probability_dry, probability_dry_once
from guide_service.drying.history import Check, History, is_treated_plate, points_needed, required_points
from guide_service.drying.meter import Weight
from guide_service.drying.policy import Policy
from guide_service.drying.terms import Band, Circumstances, Place, PlaceKind, Point, Qualifier, Wall

STILL_WEIGHED = frozenset({ReasonCode.ONE_ROUND_ONLY, ReasonCode.ROUNDS_TOO_CLOSE})
"""Refusals after which the probability is worked out all the same: it sets the date of the next visit."""
WASH_DAYS = 2
"""No reading counts within so many days of washing (county practice)."""
RISE_MC = 1.0
"""A later round that stands higher than this above the one before it is rising [% MC]; below one push's noise twice."""


@dataclass(frozen=True)
class Setting:
    """What the closing rule needs to know besides the readings of the place."""

    policy: Policy
    circumstances: Circumstances
    today: dt.date
    equilibrium: Level
    """Where the air leads the wood [% MC]."""
    histories: Sequence[History]

    @cached_property
    def floor(self) -> Floor | None:
        """The driest wood of the household; worked out only when some place comes near to passing."""
        return household_floor(self.histories)


@dataclass(frozen=True, slots=True)
class Passing:
    passes: bool
    probability: float | None
    reasons: tuple[Reason, ...]
    last_read: dt.date | None


def judge_place(history: History, setting: Setting) -> Passing:
    """Whether one place alone meets the closing rule, with the probability behind it and what is missing."""
    checks = [check for check in history.checks if check.counting]
    if not checks:
        return Passing(False, None, _why_none_counts(history), None)
    policy, latest = setting.policy, checks[-1]
    refused = _refused_by_circumstances(history, latest, setting)
    refused += _refused_by_rounds(history, checks, dry_rounds(checks, policy), policy)
    if any(reason.code not in STILL_WEIGHED for reason in refused):
        return Passing(False, None, tuple(refused), latest.on)
    chance = probability_dry(history, setting.floor, setting.equilibrium, policy)
    if chance < policy.confidence:
        args = {"probability": chance, "needed": policy.confidence}
        refused.append(Reason(ReasonCode.NOT_SURE_ENOUGH, args))
    if refused:
        return Passing(False, chance, tuple(refused), latest.on)
    return Passing(True, chance, (Reason(ReasonCode.MEETS_LIMIT),), latest.on)


def _why_none_counts(history: History) -> tuple[Reason, ...]:
    """What keeps the numbers of the latest check from counting, or that there are none."""
    latest = history.checks[-1] if history.checks else None
    judged = [*latest.wood.values(), *latest.aside, *latest.others] if latest else []
    codes = sorted({one.reason for one in judged if one.reason is not None})
    return tuple(Reason(code) for code in codes) or (Reason(ReasonCode.NO_READING),)


def dry_rounds(checks: Sequence[Check], policy: Policy) -> list[Check]:
    """The rounds that count, latest first: dry without a break up to the latest, each far enough from the next."""
    rounds: list[Check] = []
    newest = checks[-1].on
    for check in reversed(checks):
        too_old = (newest - check.on).days > policy.reading_max_age_days
        if check.top is None or too_old or wet_or_caution(check, policy):
            break
        if not rounds or (rounds[-1].on - check.on).days >= policy.days_between_rounds:
            rounds.append(check)
    return rounds


def wet_or_caution(check: Check, policy: Policy) -> bool:
    """Whether any number of the check, relative ones included, keeps it from being a dry round."""
    top = check.top
    if top is not None and (top.mc >= policy.dry_below_mc or top.reading.qualifier is Qualifier.ABOVE):
        return True
    return any(worsening_band(judged, policy) is not Band.UNREAD for judged in check.others)


def _refused_by_circumstances(history: History, latest: Check, setting: Setting) -> list[Reason]:
    policy, refused = setting.policy, []
    if (setting.today - latest.on).days > policy.reading_max_age_days:
        refused.append(Reason(ReasonCode.TOO_OLD, {"read_on": latest.on}))
    washed = setting.circumstances.washed_on
    if washed is not None and latest.on <= washed + dt.timedelta(days=WASH_DAYS):
        refused.append(Reason(ReasonCode.WASHED_RECENTLY, {"washed_on": washed}))
    after = history.checks[history.checks.index(latest) :]
    doubted = [check for check in after[1:] if wet_or_caution(check, policy)]
    codes = sorted({one.reason for check in doubted for one in check.wood.values() if one.reason is not None})
    refused += [Reason(code) for code in codes or ([ReasonCode.UNCONFIRMED] if doubted else [])]
    return refused


def _refused_by_rounds(
    history: History, checks: Sequence[Check], rounds: Sequence[Check], policy: Policy
) -> list[Reason]:
    if not rounds:
        return [Reason(ReasonCode.NOT_BELOW_LIMIT, {"limit": policy.dry_below_mc})]
    refused = []
    if len(rounds) < policy.rounds:
        dry_in_a_row = len(checks) > 1 and not wet_or_caution(checks[-2], policy)
        code = ReasonCode.ROUNDS_TOO_CLOSE if dry_in_a_row else ReasonCode.ONE_ROUND_ONLY
        refused.append(Reason(code, {"needed": policy.rounds, "days": policy.days_between_rounds}))
    elif rises_between(rounds[: policy.rounds]) or _plate_rises(rounds):
        refused.append(Reason(ReasonCode.RISING))
    missing = _missing(history, rounds, policy)
    if missing:
        refused.append(Reason(ReasonCode.MISSING_POINTS, {"points": missing}))
    return refused


def rises_between(rounds: Sequence[Check]) -> bool:
    """Whether the worst point stands clearly higher in a later round (rounds latest first)."""
    tops = [check.top.mc for check in rounds if check.top is not None]
    return any(late - early > RISE_MC for late, early in pairwise(tops))


def _plate_rises(rounds: Sequence[Check]) -> bool:
    tops = [max(judged.mc for judged in check.aside) for check in rounds if check.aside]
    return any(late - early > RISE_MC for late, early in pairwise(tops))


def _missing(history: History, rounds: Sequence[Check], policy: Policy) -> tuple[Point, ...]:
    """Points without a counting reading in the counted rounds; the latest round may lack one of them."""
    read = [_points_read(check) for check in rounds]
    needed = required_points(history.place, policy)
    absent = tuple(point for point in needed if not any(point in points for points in read))
    enough = len(set().union(*read)) >= points_needed(history.place, policy)
    latest = len(read[0]) >= max(points_needed(history.place, policy) - 1, 1)
    if absent or (enough and latest):
        return absent
    return tuple(point for point in needed if point not in read[0])


def _points_read(check: Check) -> set[Point]:
    aside = {judged.reading.point for judged in check.aside if judged.weight is Weight.COUNTS}
    return {judged.reading.point for judged in check.counting} | aside


def judge_wall(
    wall: Wall,
    histories: Sequence[History],
    passing: dict[str, Passing],
    taken_labels: frozenset[str],
    setting: Setting,
) -> WallReadiness:
    """Whether the whole wall meets the limit: every followed place passes and every other bay was swept once."""
    followed = [history for history in histories if history.place.followed]
    reasons = _wall_refusals(wall, followed, passing, setting.circumstances)
    sweep, swept, wet = _sweep(wall, histories, taken_labels, setting)
    reasons += [Reason(ReasonCode.NOT_BELOW_LIMIT, {"place": label}) for label in wet]
    ready_but_for_sweep = not reasons
    if sweep and ready_but_for_sweep:
        reasons.append(Reason(ReasonCode.SWEEP_NEEDED, {"labels": sweep}))
    if reasons:
        return WallReadiness(wall.id, False, (), tuple(reasons), sweep=sweep if ready_but_for_sweep else ())
    covers = tuple(history.place.label for history in followed) + tuple(label for label, _ in swept)
    days = [day for h in followed if (day := passing[h.place.label].last_read) is not None]
    lapses = min(days + [day for _, day in swept]) + dt.timedelta(days=setting.policy.reading_max_age_days)
    return WallReadiness(wall.id, True, covers, (Reason(ReasonCode.MEETS_LIMIT),), lapses)


def _wall_refusals(
    wall: Wall, followed: Sequence[History], passing: dict[str, Passing], circumstances: Circumstances
) -> list[Reason]:
    reasons = []
    if circumstances.mould_open:
        reasons.append(Reason(ReasonCode.MOULD_OPEN))
    if circumstances.relative_high:
        reasons.append(Reason(ReasonCode.RELATIVE_WORSENS))
    if wall.bays is None:
        reasons.append(Reason(ReasonCode.BAYS_UNKNOWN))
    if not followed:
        reasons.append(Reason(ReasonCode.PLACES_NOT_READ))
    for history in followed:
        outcome = passing[history.place.label]
        if not outcome.passes:
            reasons += [Reason(r.code, {**r.args, "place": history.place.label}) for r in outcome.reasons]
    return reasons


def _sweep(
    wall: Wall, histories: Sequence[History], taken_labels: frozenset[str], setting: Setting
) -> tuple[tuple[str, ...], list[tuple[str, dt.date]], list[str]]:
    """Labels still to be read at the plate, those that were read dry (with their day), and those that were not dry."""
    needed: list[str] = []
    swept: list[tuple[str, dt.date]] = []
    wet: list[str] = []
    for history in histories:
        if history.place.followed:
            continue
        state, day = _swept(history, setting)
        if state is None or day is None:
            needed.append(history.place.label)
        elif state:
            swept.append((history.place.label, day))
        else:
            wet.append(history.place.label)
    return tuple(needed + _unnamed_bays(wall, histories, taken_labels)), swept, wet


def _swept(history: History, setting: Setting) -> tuple[bool | None, dt.date | None]:
    """Whether the plate of a bay that is not followed was read dry lately, and when; ``None`` = not read."""
    policy = setting.policy
    for check in reversed(history.checks):
        aside = any(is_treated_plate(history.place, judged) for judged in check.aside)
        point = Point.LOW_STUD if aside else required_points(history.place, policy)[0]
        judged = check.wood.get(point)
        if (setting.today - check.on).days > policy.reading_max_age_days:
            return None, None
        if wet_or_caution(check, policy):
            return False, check.on
        if judged is not None and judged.weight is Weight.COUNTS:
            chance = probability_dry_once(judged, setting.floor, setting.equilibrium, policy)
            return chance >= policy.confidence, check.on
    return None, None


def _unnamed_bays(wall: Wall, histories: Sequence[History], taken_labels: frozenset[str]) -> list[str]:
    """Labels for the bays of the wall that no place stands for yet, with the wall's own letter."""
    bays: list[Place] = [history.place for history in histories if history.place.kind is PlaceKind.BAY]
    absent = (wall.bays or 0) - len(bays)
    if absent <= 0 or not bays:
        return []
    letter = bays[0].label.rstrip("0123456789")
    free = (label for n in range(1, len(taken_labels) + absent + 1) if (label := f"{letter}{n}") not in taken_labels)
    return [label for label, _ in zip(free, range(absent), strict=False)]
