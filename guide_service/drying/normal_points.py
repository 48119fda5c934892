"""A fixed set of points of five independent standard normals, and slopes of the normal distribution's logarithm."""

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


def log_cdf_slopes(x: Array) -> tuple[Array, Array]:
    """First derivative, and minus the second, of log Phi(x): the pull of a censored reading and its curvature."""
    from scipy.special import log_ndtr

    slope = np.exp(-0.5 * x**2 - 0.5 * np.log(2.0 * np.pi) - log_ndtr(x))
    return slope, np.maximum(slope * (slope + x), 1e-6)
