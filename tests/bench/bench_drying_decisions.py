"""Decisions, days lost and visits of the closing rule in the simulated world.

Run alone: python -m tests.bench drying_decisions
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from guide_service.drying.policy import Policy
from guide_service.rehearsal.drying_world import Houses, build, read
from guide_service.rehearsal.world_ranges import ADVERSE, CENTRAL, MeterRanges
from tests.bench.drying_fixed_rules import FixedRule, best_at, best_at_harm, frontier, live_by, worst_shown
from tests.bench.drying_judge import Life, Outcome, Score, last_wet_day, live, lives, score

Row = dict[str, object]

SEED = 2031
HOUSES, PER_HOUSE = 1300, 6
LONE_HOUSES = 1300
FRONTIER_HOUSES = 110
LEVELS = (0.8, 0.9, 0.975)
METERS = {"central": (CENTRAL, 0.01), "adverse": (ADVERSE, 0.03)}


def row(name: str, value: object, target: str = "", holds: bool | None = None) -> Row:
    return {"name": f"drying: {name}", "value": value, "target": target, "holds": holds}


def spelled(result: Score) -> str:
    return (
        f"{result.decisions} decided, "
        f">=16: {100 * result.harm_share:.2f} % (upper {100 * result.harm_upper:.2f}), "
        f">=15: {100 * result.above_share:.2f} %, days lost median {result.lost_median:.0f}, "
        f"p90 {result.lost_p90:.0f}, mean {result.lost_mean:.1f}, never {100 * result.never:.1f} %"
    )


def decisions(name: str, meter: MeterRanges, allowed: float, houses: Houses, life: Life, seed: int) -> list[Row]:
    """The service's own rule on its own dates against the naive rule, 13.4 twice, and the best fixed limit."""
    stays, shown = last_wet_day(houses), read(houses, seed, meter)
    ours = score(live(houses, shown, life, Policy()).decided, houses, stays)
    worst = worst_shown(shown)
    naive = score(live_by(FixedRule(14.99, 1), worst, houses, life)[0], houses, stays)
    twice = score(live_by(FixedRule(13.4, 2), worst, houses, life)[0], houses, stays)
    points = frontier(houses, shown, life, stays)
    rule, best = best_at(points, ours)
    by_harm, best_by_harm = best_at_harm(points, ours)
    bound = f"at least 5000 decisions, upper bound at most {100 * allowed:.0f} %"
    enough = ours.decisions >= 5000
    rows = [
        row(f"{name} meter, wrong decisions", spelled(ours), bound, enough and ours.harm_upper <= allowed),
        row(f"{name} meter, naive rule (one set below 15)", spelled(naive)),
        row(f"{name} meter, at most 13.4 twice", spelled(twice)),
        row(f"{name} meter, best fixed limit, no more often wrong ({rule.limit:.1f} x {rule.rounds})", spelled(best)),
        row(f"{name} meter, best by 16 % alone ({by_harm.limit:.1f} x {by_harm.rounds})", spelled(best_by_harm)),
    ]
    return rows + _days_lost(name, ours, best)


def _days_lost(name: str, ours: Score, best: Score) -> list[Row]:
    def saved(mine: float, theirs: float) -> float:
        return 1.0 - mine / max(theirs, 1e-9)

    median, p90 = saved(ours.lost_median, best.lost_median), saved(ours.lost_p90, best.lost_p90)
    mean = saved(ours.lost_mean, best.lost_mean)
    text = f"median {100 * median:.0f} %, p90 {100 * p90:.0f} %, mean {100 * mean:.0f} % fewer"
    fewer = f"{100 * ours.never:.1f} % against {100 * best.never:.1f} %"
    return [
        row(
            f"{name} meter, days lost against it", text, "at least 10 % fewer (median and p90)", min(median, p90) >= 0.1
        ),
        row(f"{name} meter, places never decided", fewer, "fewer", ours.never < best.never),
    ]


def visits(houses: Houses, life: Life, seed: int) -> list[Row]:
    """Rounds per house against an every-3-days schedule with the same stopping rule, on a part of the houses."""
    some = range(FRONTIER_HOUSES)
    shown = read(houses, seed, CENTRAL)
    own = live(houses, shown, life, Policy(), only=some)
    dense = live(houses, shown, life, Policy(), every=3, only=some)
    ratio = _rounds(own, own.finished, some) / _rounds(dense, own.finished, some)
    whole = _rounds(own, None, some) / _rounds(dense, None, some)
    text = f"{100 * whole:.0f} % ({_rounds(own, None, some):.1f} rounds; houses that finish: {100 * ratio:.0f} %)"
    return [row("visits against every 3 days", text, "at most 70 %", whole <= 0.7)]


def _rounds(outcome: Outcome, finished: np.ndarray | None, some: range) -> float:
    chosen = outcome.visits[: len(some)]
    return float(chosen.mean() if finished is None else chosen[finished[: len(some)]].mean())


def lone_places(seed: int) -> list[Row]:
    """Households with one place: the meter cannot be judged by drier wood of the house."""
    houses = build(seed, LONE_HOUSES, 1)
    life, stays = lives(LONE_HOUSES, seed + 1), last_wet_day(houses)
    rows = []
    for name, (meter, allowed) in METERS.items():
        result = score(live(houses, read(houses, seed + 2, meter), life, Policy()).decided, houses, stays)
        bound = f"upper bound at most {100 * allowed:.0f} %"
        rows.append(row(f"{name} meter, one place a house", spelled(result), bound, result.harm_upper <= allowed))
    return rows


def levels(houses: Houses, life: Life, seed: int) -> list[Row]:
    """Other levels of the policy on a part of the houses: the frontier."""
    rows = []
    some = range(FRONTIER_HOUSES)
    part = FRONTIER_HOUSES * PER_HOUSE
    sub = _first(houses, FRONTIER_HOUSES)
    stays = last_wet_day(sub)
    for name, (meter, _) in METERS.items():
        shown = read(houses, seed, meter)
        for level in LEVELS:
            policy = replace(Policy(), confidence=level)
            decided = live(houses, shown, life, policy, only=some).decided[:part]
            rows.append(row(f"{name} meter, level {level}", spelled(score(decided, sub, stays))))
    return rows


def _first(houses: Houses, count: int) -> Houses:
    n = count * houses.per_house
    return replace(
        houses,
        construction=houses.construction[:n],
        truth=houses.truth[:n],
        section_max=houses.section_max[:n],
        temp_c=houses.temp_c[:count],
        emc=houses.emc[:count],
        emc_mean=houses.emc_mean[:count],
        humid=houses.humid[:count],
        covered=houses.covered[:n],
        new_water_day=houses.new_water_day[:n],
    )


def run() -> list[Row]:
    houses, life = build(SEED, HOUSES, PER_HOUSE), lives(HOUSES, SEED + 1)
    rows: list[Row] = []
    for name, (meter, allowed) in METERS.items():
        rows += decisions(name, meter, allowed, houses, life, SEED + 2)
    return rows + lone_places(SEED + 10) + levels(houses, life, SEED + 2) + visits(houses, life, SEED + 2)
