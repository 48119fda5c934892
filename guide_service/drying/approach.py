"""The approach of wood to the equilibrium of its air: exponential law, and the diffusion of a slab behind it.

Sources: Crank, The Mathematics of Diffusion (series of the plane sheet; from memory, checked by a finite-volume run of
our own); the hardwood time constant is that of the worked example of Simpson & Tschernitz as told by the encyclopedia
article "Wood drying".
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from guide_service.drying.psychrometrics import plain

SECONDS_PER_DAY = 86400.0
SERIES_TERMS = 60
STUD_M = 0.038
SOFTWOOD_DIFFUSIVITY = 1.2e-10
"""Across the grain, about 15 % MC and 20 deg C [m2/s]: the middle of 0.7 to 3.0e-10 (van der Kamp and others 2017;
vapour permeance of ISO 10456, from memory)."""


def level_after(days: ArrayLike, start: ArrayLike, end: ArrayLike, tau_days: ArrayLike) -> Any:
    """Moisture content [% MC] after ``days``: E + (M0 - E) exp(-t / tau)."""
    t, m0, e, tau = (np.asarray(part, dtype=np.float64) for part in (days, start, end, tau_days))
    return plain(e + (m0 - e) * np.exp(-t / tau))


def days_to(target: ArrayLike, start: ArrayLike, end: ArrayLike, tau_days: ArrayLike) -> Any:
    """Days until ``target`` [% MC] is reached: 0 where already there, ``inf`` where the air does not lead that far."""
    goal, m0, e, tau = (np.asarray(part, dtype=np.float64) for part in (target, start, end, tau_days))
    reach = (m0 > goal) & (e < goal)
    ratio = np.where(reach, m0 - e, 1.0) / np.where(reach, goal - e, 1.0)
    return plain(np.where(m0 <= goal, 0.0, np.where(reach, tau * np.log(ratio), np.inf)))


def slab_tau_days(thickness_m: float, diffusivity: float = SOFTWOOD_DIFFUSIVITY, faces: int = 2) -> float:
    """Slowest time constant of a slab [days]: L^2 / (pi^2 D), a slab open on one face counting as twice as thick."""
    if faces not in (1, 2):
        raise ValueError("a slab dries through one face or two")
    length = thickness_m * (2.0 if faces == 1 else 1.0)
    return length**2 / (np.pi**2 * diffusivity) / SECONDS_PER_DAY


def slab_mean_change(fourier: ArrayLike) -> Any:
    """Unaccomplished change of a slab's mean at Fourier number D t / L^2 (both faces held; ``fourier`` above 0)."""
    odd = 2.0 * np.arange(SERIES_TERMS) + 1.0
    fo = np.asarray(fourier, dtype=np.float64)[..., None]
    return plain((8.0 / np.pi**2 * np.exp(-(odd**2) * np.pi**2 * fo) / odd**2).sum(axis=-1))


def slab_centre_change(fourier: ArrayLike) -> Any:
    """Unaccomplished change at a slab's centre at Fourier number D t / L^2."""
    k = np.arange(SERIES_TERMS)
    odd = 2.0 * k + 1.0
    fo = np.asarray(fourier, dtype=np.float64)[..., None]
    return plain((4.0 / np.pi * (-1.0) ** k / odd * np.exp(-(odd**2) * np.pi**2 * fo)).sum(axis=-1))


def hardwood_tau_days(thickness_in: float, temp_c: float) -> float:
    """Time constant of the published red-oak example [days]; slower than softwood, a check value only."""
    saturation_mmhg = 10.0 ** (8.07131 - 1730.63 / (233.426 + temp_c))
    return float(thickness_in**1.52 / (0.0575 + 0.00142 * saturation_mmhg))


def follow(ends: ArrayLike, start: float, tau_steps: float) -> Any:
    """Moisture content after each step while the end of the approach moves: ``ends`` (steps,) [% MC]."""
    keep = np.exp(-1.0 / tau_steps)
    level, out = start, np.empty(np.shape(ends))
    for k, end in enumerate(np.asarray(ends, dtype=np.float64)):
        level = end + (level - end) * keep
        out[k] = level
    return out
