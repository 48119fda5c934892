"""Readings with and without a meter's end in one likelihood, and a fixed set of normal points for a spread.

A number counts with its density; one over range with the probability of lying above the bound, one under range with
that of lying below it (Tobin 1958). The bound is never put in the place of the number.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from guide_service.drying.psychrometrics import Array

POINTS = 64
DIMENSIONS = 5


def _spread_points() -> Array:
    """An additive low-discrepancy sequence (powers of the root of x^6 = x + 1), made normal, mirrored, scaled."""
    root = 1.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (DIMENSIONS + 1))
    steps = root ** -np.arange(1, DIMENSIONS + 1)
    uniform = (0.5 + steps[:, None] * np.arange(1, POINTS // 2 + 1)) % 1.0
    half = _normal_quantile(uniform)
    points = np.concatenate([half, -half], axis=1)
    scaled: Array = points / np.sqrt((points**2).mean(axis=1, keepdims=True))
    return scaled


def _normal_quantile(share: NDArray[np.floating[Any]]) -> Array:
    """Inverse of the normal distribution from its tabulated integral (module load only, 160 values)."""
    grid = np.linspace(-5.0, 5.0, 4001)
    density = np.exp(-0.5 * grid**2)
    integral = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2.0)])
    quantile: Array = np.interp(share, integral / integral[-1], grid)
    return quantile


STANDARD_POINTS = _spread_points()
"""(5, 64); the same in every run."""


NUMBER, OVER, UNDER, NONE = 0, 1, -1, 2
"""Kinds of an entry: a number, over range, under range, nothing there."""
Kinds = NDArray[np.int8]


def log_likelihood(level: Array, kind: Kinds, fitted: Array, sd: float) -> float:
    """Log-likelihood of entries ``level`` [% MC] (the bound where out of range) about ``fitted``, noise ``sd``."""
    from scipy.special import log_ndtr

    z = (level - fitted) / sd
    density = -0.5 * z**2 - np.log(sd) - 0.5 * np.log(2.0 * np.pi)
    outside = log_ndtr(np.where(kind == OVER, -z, z))
    terms = np.where(kind == NUMBER, density, np.where(kind == NONE, 0.0, outside))
    return float(terms.sum())


def slopes(level: Array, kind: Kinds, fitted: Array, weight: Array) -> tuple[Array, Array]:
    """First derivative and (positive) curvature of the log-likelihood in ``fitted``; ``weight`` is 1 / variance."""
    pull, curve = weight * (level - fitted), weight.copy()
    for side in (OVER, UNDER):
        out = kind == side
        if out.any():
            root = np.sqrt(weight[out])
            slope, bend = _log_cdf_slopes(side * (fitted[out] - level[out]) * root)
            pull[out], curve[out] = side * slope * root, bend * root**2
    return pull, curve


def _log_cdf_slopes(x: Array) -> tuple[Array, Array]:
    """First derivative, and minus the second, of the logarithm of the normal distribution."""
    from scipy.special import log_ndtr

    slope = np.exp(-0.5 * x**2 - 0.5 * np.log(2.0 * np.pi) - log_ndtr(x))
    return slope, np.maximum(slope * (slope + x), 1e-6)
