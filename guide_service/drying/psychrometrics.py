"""Moist air: saturation pressure, dew point, humidity ratio, and what outdoor air becomes once warmed indoors.

Every function takes numbers or arrays (broadcast) and returns the same shape. Temperatures in deg C, pressures in Pa,
relative humidity in %, humidity ratio in kg of water per kg of dry air. Outside the stated range a ``ValueError`` says
so; inside it no result is NaN.

Sources: ASHRAE Handbook - Fundamentals (2017), chapter 1, equations 5 and 6 (Hyland & Wexler 1983) for saturation;
WMO-No. 8 (CIMO guide) for the Magnus form that has an exact inverse, used for the dew point.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

STANDARD_PRESSURE_PA = 101325.0
WATER_TO_AIR = 0.621945
"""Ratio of molar masses of water and dry air (ASHRAE 2017, ch. 1)."""
WATER_GAS_CONSTANT = 461.5
"""[J/(kg K)]"""
RANGE_C = (-40.0, 80.0)
MAGNUS_A, MAGNUS_B, MAGNUS_PA = 17.62, 243.12, 611.2
"""WMO-No. 8, over water."""


def checked(name: str, value: ArrayLike, low: float, high: float) -> Array:
    """``value`` as array; raises ``ValueError`` when any of it is not a finite number from ``low`` to ``high``."""
    array = np.asarray(value, dtype=np.float64)
    if not np.all((array >= low) & (array <= high)):
        raise ValueError(f"{name} must be from {low:g} to {high:g}")
    return array


def plain(array: Any) -> Any:
    """A Python float for a single value, the array otherwise."""
    return array.item() if np.ndim(array) == 0 else array


def saturation_pressure(temp_c: ArrayLike) -> Any:
    """Saturation vapour pressure [Pa] over water, over ice below 0 deg C; -40 to 80 deg C (ASHRAE 2017, eq. 5, 6)."""
    kelvin = checked("temperature", temp_c, *RANGE_C) + 273.15
    ice = (
        -5.6745359e3 / kelvin
        + 6.3925247
        - 9.677843e-3 * kelvin
        + 6.2215701e-7 * kelvin**2
        + 2.0747825e-9 * kelvin**3
        - 9.484024e-13 * kelvin**4
        + 4.1635019 * np.log(kelvin)
    )
    water = (
        -5.8002206e3 / kelvin
        + 1.3914993
        - 4.8640239e-2 * kelvin
        + 4.1764768e-5 * kelvin**2
        - 1.4452093e-8 * kelvin**3
        + 6.5459673 * np.log(kelvin)
    )
    # The ice coefficients are from memory; frost changes no verdict, and the published table below 0 deg C checks them.
    return plain(np.exp(np.where(kelvin < 273.16, ice, water)))


def vapour_pressure(temp_c: ArrayLike, rh: ArrayLike) -> Any:
    """Partial pressure of vapour [Pa] at ``rh`` [%]."""
    return plain(saturation_pressure(temp_c) * checked("relative humidity", rh, 0.0, 100.0) / 100.0)


def dew_point(temp_c: ArrayLike, rh: ArrayLike) -> Any:
    """Dew point [deg C] over water (Magnus, WMO-No. 8); ``rh`` above 0 to 100 %."""
    temp = checked("temperature", temp_c, *RANGE_C)
    share = checked("relative humidity", rh, 1e-6, 100.0) / 100.0
    exponent = np.log(share) + MAGNUS_A * temp / (MAGNUS_B + temp)
    return plain(np.minimum(MAGNUS_B * exponent / (MAGNUS_A - exponent), temp))


def humidity_ratio(temp_c: ArrayLike, rh: ArrayLike, pressure_pa: float = STANDARD_PRESSURE_PA) -> Any:
    """Humidity ratio [kg/kg] (ASHRAE 2017, eq. 20; no enhancement factor: 0.5 % low at 25 deg C saturated)."""
    vapour = vapour_pressure(temp_c, rh)
    if np.any(np.asarray(vapour) >= pressure_pa):
        raise ValueError("vapour pressure reaches the air pressure")
    return plain(WATER_TO_AIR * np.asarray(vapour) / (pressure_pa - np.asarray(vapour)))


def vapour_concentration(temp_c: ArrayLike, rh: ArrayLike) -> Any:
    """Vapour concentration [kg/m3]."""
    kelvin = np.asarray(temp_c, dtype=np.float64) + 273.15
    return plain(np.asarray(vapour_pressure(temp_c, rh)) / (WATER_GAS_CONSTANT * kelvin))


def warmed(outdoor_temp_c: ArrayLike, outdoor_rh: ArrayLike, indoor_temp_c: ArrayLike) -> Any:
    """Relative humidity [%] of outdoor air once it has the indoor temperature; 100 where it would condense."""
    vapour = np.asarray(vapour_pressure(outdoor_temp_c, outdoor_rh))
    return plain(np.minimum(100.0 * vapour / np.asarray(saturation_pressure(indoor_temp_c)), 100.0))


def celsius(fahrenheit: ArrayLike) -> Any:
    """Deg C from deg F."""
    return plain((np.asarray(fahrenheit, dtype=np.float64) - 32.0) / 1.8)


def fahrenheit(celsius_value: ArrayLike) -> Any:
    """Deg F from deg C."""
    return plain(np.asarray(celsius_value, dtype=np.float64) * 1.8 + 32.0)
