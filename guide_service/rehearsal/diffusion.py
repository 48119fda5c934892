"""Wood that dries by one-dimensional diffusion: finite volumes, implicit in time, many pieces at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CELLS = 20
SECONDS_PER_DAY = 86400.0
FREE_WATER_MC = 30.0
"""Above fibre saturation diffusivity grows no further with moisture [% MC]."""


@dataclass(frozen=True, slots=True)
class Pieces:
    """Pieces of wood, one row each: shapes ``(n,)``."""

    thickness_mm: Array
    faces: Array
    """1 = only the first cell's face is open, 2 = both."""
    diffusivity: Array
    """[m2/s] at 15 % MC and 20 deg C."""
    growth_per_mc: Array
    doubling_c: float = 11.0

    def at(self, mc: Array, temp_c: Array) -> Array:
        """Diffusivity [m2/s] at moisture ``mc`` (n, cells) and temperature ``temp_c`` (n,)."""
        grown = np.exp(self.growth_per_mc[:, None] * (np.minimum(mc, FREE_WATER_MC) - 15.0))
        warm = np.exp2((temp_c - 20.0) / self.doubling_c)
        return (self.diffusivity * warm)[:, None] * grown


def step(mc: Array, pieces: Pieces, surface_mc: Array, temp_c: Array, days: float) -> Array:
    """Moisture (n, cells) after ``days``, the open faces held at ``surface_mc`` (n,); backward Euler, D lagged."""
    dx = pieces.thickness_mm / 1000.0 / mc.shape[1]
    diffusivity = pieces.at(mc, temp_c)
    fourier = diffusivity * (days * SECONDS_PER_DAY) / (dx**2)[:, None]
    between = 2.0 * fourier[:, :-1] * fourier[:, 1:] / (fourier[:, :-1] + fourier[:, 1:])
    face = pieces.at(surface_mc[:, None], temp_c) * (days * SECONDS_PER_DAY) / (dx**2)[:, None]
    first = fourier[:, 0] + face[:, 0]  # half a cell to the face: 2 * the mean of both ends
    last = np.where(pieces.faces > 1, fourier[:, -1] + face[:, 0], 0.0)
    diagonal = np.ones_like(mc)
    diagonal[:, :-1] += between
    diagonal[:, 1:] += between
    diagonal[:, 0] += first
    diagonal[:, -1] += last
    right = mc.copy()
    right[:, 0] += first * surface_mc
    right[:, -1] += last * surface_mc
    return _solve(between, diagonal, right)


def _solve(between: Array, diagonal: Array, right: Array) -> Array:
    """Symmetric tridiagonal systems, one per row (off-diagonals ``-between``)."""
    cells = right.shape[1]
    ratio = np.empty_like(between)
    out = np.empty_like(right)
    out[:, 0] = right[:, 0] / diagonal[:, 0]
    ratio[:, 0] = between[:, 0] / diagonal[:, 0]
    for k in range(1, cells):
        pivot = diagonal[:, k] - between[:, k - 1] * ratio[:, k - 1]
        if k < cells - 1:
            ratio[:, k] = between[:, k] / pivot
        out[:, k] = (right[:, k] + between[:, k - 1] * out[:, k - 1]) / pivot
    for k in range(cells - 2, -1, -1):
        out[:, k] += ratio[:, k] * out[:, k + 1]
    return out


def at_depth(mc: Array, thickness_mm: Array, depth_mm: Array) -> Array:
    """Moisture (n, points) at ``depth_mm`` (n, points) from the first face, between cell centres."""
    cells = mc.shape[1]
    place = np.clip(depth_mm / thickness_mm[:, None] * cells - 0.5, 0.0, cells - 1.0)
    low = np.minimum(place.astype(np.int64), cells - 2)
    part = place - low
    below, above = np.take_along_axis(mc, low, 1), np.take_along_axis(mc, low + 1, 1)
    mixed: Array = below + part * (above - below)
    return mixed
