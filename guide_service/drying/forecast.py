"""When a place is expected below the limit: an approach to the air's equilibrium, fitted to many places at once.

Model (science of drying below fibre saturation): M(t) = E + (M_now - E) exp(-(t - t_now) / tau), for the worst point of
a place, on the meter's own scale. Near-exponential approach is what full-scale wetted walls show (Boardman, Glass &
Zelinka 2020, Buildings 10(8):141). Unknowns of each place: M_now, log tau, E. Priors: tau from construction (38 mm open
on both faces about 14 days, one face four times that, at 1.2e-10 m2/s), E from the air, widened by the meter's shared
error, which also moves the limit on the meter's scale. Numbers over or under the meter's range enter the likelihood as
such. The maximum is found by Newton steps for all places together; the spread around it is taken as normal, and a fixed
set of points of it is carried through the crossing time, which gives the range.

Diffusivity falls as wood dries (Sonderegger and others 2011), so the time constant is let grow towards the limit.
Above fibre saturation free water moves and this shape does not hold: such places are too wet to tell.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from guide_service.drying.approach import STUD_M, slab_tau_days
from guide_service.drying.censoring import STANDARD_POINTS, slopes
from guide_service.drying.psychrometrics import Array
from guide_service.drying.terms import Exposure

TAU_DAYS = {
    Exposure.TWO_FACES: slab_tau_days(STUD_M, faces=2),
    Exposure.ONE_FACE: slab_tau_days(STUD_M, faces=1),
    Exposure.UNKNOWN: 24.0,
}
"""Time constant to expect [days]: thickness^2 / (pi^2 D), 38 mm, one face = twice the thickness."""
TAU_LOG_SD = {Exposure.TWO_FACES: 0.6, Exposure.ONE_FACE: 0.6, Exposure.UNKNOWN: 0.9}
"""Spread of its logarithm: diffusivity 0.7 to 3.0e-10 m2/s, temperature, thickness."""
READING_MC = 0.8
"""Noise of a check's worst level [% MC]."""
AGEING_DAYS = 18.0
"""Readings older than this weigh less and less: the shape is only locally exponential."""
STIFFENING_PER_MC, STIFFENING_SD = 0.04, 0.03
"""Growth of log tau per % MC of drying: D falls by 3 to 9 % per % MC over the range of wood here."""
FREE_WATER_MC = 28.0
"""At or above this a place is too wet to tell (fibre saturation, less the meter's doubt)."""
LONGEST_DAYS = 120.0
"""A later end of the range than this is no date to give anybody."""
NEWTON_STEPS = 5
WANDER_MC = 0.3
"""The worst point must be expected this far below the limit to stay there: the air's equilibrium wanders by 1 % MC a
day, and the pins feel part of it. Chosen in the simulated world."""
TRUST_IN_AIR = 0.4
USUAL_END_MC, U_END_MC, U_USUAL_MC = 11.5, 1.1, 1.5
"""The end of the approach is a weighted mean of the air's equilibrium as reported and what is usual: a reported air is
one day's, a point of equilibrium wrong, and wood on the drying branch ends above it. Chosen in the simulated world."""
HOPELESS_EMC = 0.5
"""Air whose equilibrium stands above the limit by this much cannot dry wood to it [% MC]."""
CHUNK = 1024
"""Places worked on at once: keeps the arrays in cache and the memory bounded."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Checks of many places: arrays ``(n, k)``, newest last; unused slots are masked off."""

    days: Array
    """Day of each check, before the newest one: 0 or negative [days]."""
    level: Array
    """Worst level of the check, or the bound where it is out of range [% MC]."""
    kind: NDArray[np.int8]
    """0 = number, 1 = over range, -1 = under range, 2 = no check in this slot."""
    tau: Array
    """(n,) prior time constant [days]."""
    tau_log_sd: Array
    equilibrium: Array
    """(n,) equilibrium of the air [% MC]."""
    u_equilibrium: Array
    u_shared: Array
    """(n,) shared error of the meter [% MC]."""


@dataclass(frozen=True, slots=True)
class Crossing:
    """Days from the newest check until the limit is crossed; shapes ``(n,)``. ``inf`` = not within reach."""

    early: Array
    likely: Array
    late: Array
    """10, 50 and 90 % points."""
    level: Array
    """Fitted level at the newest check [% MC, meter's scale]."""
    tau: Array
    """Fitted time constant [days]."""
    end: Array
    """Fitted equilibrium [% MC, meter's scale]."""


def forecast(batch: Batch, limit: float) -> Crossing:
    """Crossing times of many places. No row is NaN; a row without any number in range is the prior's."""
    size = batch.tau.size
    parts = [_forecast(_rows(batch, slice(start, start + CHUNK)), limit) for start in range(0, size, CHUNK)]
    if len(parts) == 1:
        return parts[0]
    return Crossing(*(np.concatenate([getattr(part, f.name) for part in parts]) for f in fields(Crossing)))


def end_of_approach(air_emc: float) -> float:
    """Where places are expected to end [% MC], from the equilibrium of the air as known."""
    return TRUST_IN_AIR * air_emc + (1.0 - TRUST_IN_AIR) * USUAL_END_MC


def _rows(batch: Batch, rows: slice) -> Batch:
    return Batch(*(getattr(batch, f.name)[rows] for f in fields(Batch)))


@dataclass(frozen=True, slots=True)
class Draws:
    """The fit, ``(n,)``, and the fixed set of points of its spread, ``(n, points)``, that is carried onwards."""

    level: Array
    log_tau: Array
    end: Array
    drawn_level: Array
    drawn_log_tau: Array
    """With its growth towards the limit."""
    drawn_end: Array
    bar: Array
    """What each has to fall below: the limit on the meter's own scale, less the air's wandering [% MC]."""


def draws_of(batch: Batch, limit: float) -> Draws:
    theta, chol = _fit(batch)
    now, log_tau, end = (theta[:, k] for k in range(3))
    z = STANDARD_POINTS
    draw_now = now[:, None] + chol[0][:, None] * z[0]
    draw_tau = log_tau[:, None] + chol[1][:, None] * z[0] + chol[2][:, None] * z[1]
    draw_end = end[:, None] + chol[3][:, None] * z[0] + chol[4][:, None] * z[1] + chol[5][:, None] * z[2]
    share = batch.u_shared**2 / (batch.u_shared**2 + batch.u_equilibrium**2)
    error = share[:, None] * (draw_end - batch.equilibrium[:, None])
    error += (batch.u_shared * np.sqrt(1.0 - share))[:, None] * z[3]
    bar = limit - WANDER_MC + error
    growth = STIFFENING_PER_MC + STIFFENING_SD * z[4]
    draw_tau = draw_tau + growth * np.clip((draw_now - bar) / 2.0 + _mean_excess(batch, now)[:, None], 0.0, 15.0)
    return Draws(now, log_tau, end, draw_now, draw_tau, draw_end, bar)


def _forecast(batch: Batch, limit: float) -> Crossing:
    drawn = draws_of(batch, limit)
    early, likely, late = range_of(_crossing(drawn.drawn_level, drawn.drawn_log_tau, drawn.drawn_end, drawn.bar))
    return Crossing(early, likely, late, drawn.level, np.exp(drawn.log_tau), drawn.end)


def range_of(values: Array) -> tuple[Array, Array, Array]:
    """10, 50 and 90 % points of each row."""
    ranked, last = np.sort(values, axis=1), values.shape[1] - 1
    low, middle, high = (ranked[:, round(share * last)] for share in (0.1, 0.5, 0.9))
    return low, middle, high


def _crossing(now: Array, log_tau: Array, end: Array, bar: Array) -> Array:
    """Days to the bar: 0 where already below, ``inf`` where the end lies above it."""
    above, gap = now - end, bar - end
    reach = (gap > 0.05) & (above > gap)
    ratio = np.where(reach, above, 1.0) / np.where(reach, gap, 1.0)
    days = np.exp(np.minimum(log_tau, 7.0)) * np.log(ratio)
    return np.where(now <= bar, 0.0, np.where(reach, days, np.inf))


def _mean_excess(batch: Batch, now: Array) -> Array:
    """Half the way from the mean of the fitted readings to the newest level [% MC]: where tau was measured."""
    weight = _weights(batch)
    mean = (weight * batch.level).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-9)
    excess: Array = np.clip(mean - now, 0.0, 10.0) / 2.0
    return excess


def _weights(batch: Batch) -> Array:
    used = batch.kind != 2
    weight: Array = np.where(used, 1.0 / (1.0 + (batch.days / AGEING_DAYS) ** 2), 0.0) / READING_MC**2
    return weight


def _fit(batch: Batch) -> tuple[Array, tuple[Array, ...]]:
    """Most probable (M_now, log tau, E) and the Cholesky factor of its covariance (six entries, row by row)."""
    weight = _weights(batch)
    prior_end_var = batch.u_equilibrium**2 + batch.u_shared**2
    now = batch.level[:, -1].copy()
    log_tau, end = np.log(batch.tau), batch.equilibrium.copy()
    for _ in range(NEWTON_STEPS):
        past = -batch.days * np.exp(-log_tau)[:, None]
        grown = np.exp(np.minimum(past, 6.0))
        gap = (now - end)[:, None]
        d_tau = -gap * grown * np.minimum(past, 6.0)
        d_end = 1.0 - grown
        residual, curve = slopes(batch.level, batch.kind, end[:, None] + gap * grown, weight)
        g0 = (residual * grown).sum(axis=1)
        g1 = (residual * d_tau).sum(axis=1) - (log_tau - np.log(batch.tau)) / batch.tau_log_sd**2
        g2 = (residual * d_end).sum(axis=1) - (end - batch.equilibrium) / prior_end_var
        wg, wt = curve * grown, curve * d_tau
        h = (
            (wg * grown).sum(axis=1) + 1e-3,
            (wg * d_tau).sum(axis=1),
            (wt * d_tau).sum(axis=1) + batch.tau_log_sd**-2,
            (wg * d_end).sum(axis=1),
            (wt * d_end).sum(axis=1),
            (curve * d_end * d_end).sum(axis=1) + 1.0 / prior_end_var,
        )
        step = _solve(h, g0, g1, g2)
        now = np.clip(now + np.clip(step[0], -5.0, 5.0), 2.0, 60.0)
        log_tau = np.clip(log_tau + np.clip(step[1], -0.7, 0.7), 0.7, 6.5)
        end = np.clip(end + np.clip(step[2], -3.0, 3.0), 2.0, 27.0)
    return np.stack([now, log_tau, end], axis=1), _spread(h)


def _solve(h: tuple[Array, ...], g0: Array, g1: Array, g2: Array) -> tuple[Array, Array, Array]:
    """Solve the symmetric 3 x 3 systems (h00, h10, h11, h20, h21, h22) of all places by Cholesky."""
    l00, l10, l11, l20, l21, l22 = _cholesky(h)
    y0 = g0 / l00
    y1 = (g1 - l10 * y0) / l11
    y2 = (g2 - l20 * y0 - l21 * y1) / l22
    x2 = y2 / l22
    x1 = (y1 - l21 * x2) / l11
    return (y0 - l10 * x1 - l20 * x2) / l00, x1, x2


def _cholesky(h: tuple[Array, ...]) -> tuple[Array, ...]:
    l00 = np.sqrt(h[0])
    l10, l20 = h[1] / l00, h[3] / l00
    l11 = np.sqrt(np.maximum(h[2] - l10**2, 1e-9))
    l21 = (h[4] - l20 * l10) / l11
    l22 = np.sqrt(np.maximum(h[5] - l20**2 - l21**2, 1e-9))
    return l00, l10, l11, l20, l21, l22


def _spread(h: tuple[Array, ...]) -> tuple[Array, ...]:
    """Cholesky factor of the inverse of the information matrix."""
    a, b, c, d, e, f = h
    det = a * (c * f - e * e) - b * (b * f - e * d) + d * (b * e - c * d)
    det = np.maximum(det, 1e-12)
    inverse = (
        (c * f - e * e) / det,
        (d * e - b * f) / det,
        (a * f - d * d) / det,
        (b * e - c * d) / det,
        (b * d - a * e) / det,
        (a * c - b * b) / det,
    )
    return _cholesky(inverse)
