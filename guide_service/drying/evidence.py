"""How sure the readings of a place make us that its wettest point is truly below the limit.

Each point's readings over the rounds are brought to one estimate of its moisture at the latest round (a discounted
level that follows the fall); what is common to all points (meter, species, temperature) is integrated over, since
no number of readings shrinks it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from guide_service.drying.history import Check
from guide_service.drying.meter import Judged
from guide_service.drying.policy import Policy
from guide_service.drying.terms import Point

# Gauss-Hermite nodes and weights for a standard normal variable (7 points).
NODES = (-3.750440, -2.366760, -1.154405, 0.0, 1.154405, 2.366760, 3.750440)
WEIGHTS = (0.000548, 0.030757, 0.240123, 0.457143, 0.240123, 0.030757, 0.000548)


def normal_cdf(x: float) -> float:
    return 0.5 * math.erfc(-x / math.sqrt(2.0))


def probability_dry(checks: Sequence[Check], policy: Policy) -> float:
    """Probability that every point of the place lay below the limit at the latest check."""
    levels = point_levels(checks, policy)
    shared = max(judged.u_shared for check in checks[-2:] for judged in check.counting)
    return chance_all_below(list(levels.values()), shared, policy)


def probability_dry_once(judged: Judged, policy: Policy) -> float:
    """The same for one reading alone (a bay read once at its plate)."""
    return chance_all_below([(judged.mc, judged.u_own)], judged.u_shared, policy)


def chance_all_below(levels: Sequence[tuple[float, float]], u_shared: float, policy: Policy) -> float:
    """P(all points < limit) from (estimate, standard error) pairs [% MC] under one shared error."""
    limit, spot = policy.dry_below_mc, policy.u_spot_mc
    total = 0.0
    for node, weight in zip(NODES, WEIGHTS, strict=True):
        product = weight
        for level, u in levels:
            product *= normal_cdf((limit - level - node * u_shared) / math.hypot(u, spot))
        total += product
    return min(total, 1.0)


def point_levels(checks: Sequence[Check], policy: Policy) -> dict[Point, tuple[float, float]]:
    """Estimate and standard error [% MC] of each point at its last reading: mean of its last two dry readings, held up
    by the later one where that is higher."""
    seen: dict[Point, list[Judged]] = {}
    for check in checks[-policy.rounds :]:
        for judged in check.counting:
            seen.setdefault(judged.reading.point, []).append(judged)
    return {point: _level(readings) for point, readings in seen.items()}


def _level(readings: Sequence[Judged]) -> tuple[float, float]:
    mean = sum(judged.mc for judged in readings) / len(readings)
    return max(mean, readings[-1].mc), readings[-1].u_own / math.sqrt(len(readings))
