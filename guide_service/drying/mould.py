"""Mould growth index of the VTT model, for ordering cases; shown to agents only.

Hukka & Viitanen 1999 (10.1007/s002260050131), in the form with four sensitivity classes (VTT and Tampere University,
2005-2009; Ojanen and others 2010), as implemented under the MIT licence in anssilaukkarinen/trh-1 (mi.py, commit
2c7de53). Index 0 = none, 1 = seen under the microscope, 3 = visible on less than a tenth, 6 = covered.

What it does not know: floodwater has already seeded the wood, and has wetted it. Pre-wetted wood grows mould sooner in
the cold than the model says (Kuka and others 2022). What a person sees or smells overrides any figure from here, and
a falling index never means that mould is gone: dried mould keeps almost all of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from guide_service.drying.psychrometrics import Array, checked, plain
from guide_service.drying.wood import humidity_over, is_saturated

RANGE_C = (-40.0, 80.0)
COLDEST_C = 0.1
"""The logarithm of temperature is taken no lower than here [deg C]; below 0 nothing grows."""
WARMEST_C = 50.0
STEEPNESS = 2.3
FAST_DECLINE_PER_DAY, SLOW_DECLINE_PER_DAY = 0.032, 0.016
PAUSE_HOURS = (6.0, 24.0)
"""Growth stopped: decline in the first 6 h, none until 24 h, slow decline after that (times the class factor)."""


class Sensitivity(StrEnum):
    VERY_SENSITIVE = "vs"
    """Sawn or planed pine and spruce sapwood."""
    SENSITIVE = "s"
    """Planed spruce, boards with paper, wood-based panels."""
    MEDIUM_RESISTANT = "mr"
    RESISTANT = "r"


@dataclass(frozen=True, slots=True)
class _Class:
    k1_start: float
    k1_grown: float
    a: float
    b: float
    c: float
    rh_min: float
    decline: float


_CLASSES = {
    Sensitivity.VERY_SENSITIVE: _Class(1.0, 2.0, 1.0, 7.0, 2.0, 80.0, 0.5),
    Sensitivity.SENSITIVE: _Class(0.578, 0.386, 0.3, 6.0, 1.0, 80.0, 0.25),
    Sensitivity.MEDIUM_RESISTANT: _Class(0.072, 0.097, 0.0, 5.0, 1.5, 85.0, 0.1),
    Sensitivity.RESISTANT: _Class(0.033, 0.014, 0.0, 3.0, 1.0, 85.0, 0.1),
}


def critical_humidity(temp_c: ArrayLike, sensitivity: Sensitivity = Sensitivity.SENSITIVE) -> Any:
    """Humidity [%] below which nothing grows at ``temp_c`` [deg C]; 100 below freezing."""
    temp = checked("temperature", temp_c, *RANGE_C)
    cubic = -0.00267 * temp**3 + 0.160 * temp**2 - 3.13 * temp + 100.0
    return plain(np.where(temp < 0.0, 100.0, np.maximum(cubic, _CLASSES[sensitivity].rh_min)))


def weeks_to_first_growth(temp_c: ArrayLike, rh: ArrayLike) -> Any:
    """t_m: weeks to index 1 of the most sensitive class at constant climate (growth conditions are not tested)."""
    temp = np.maximum(checked("temperature", temp_c, *RANGE_C), COLDEST_C)
    humidity = checked("relative humidity", rh, 1.0, 100.0)
    return plain(np.exp(-0.68 * np.log(temp) - 13.9 * np.log(humidity) + 66.02))


def weeks_to_visible_growth(temp_c: ArrayLike, rh: ArrayLike) -> Any:
    """t_v: weeks to visible growth of the original model."""
    temp = np.maximum(checked("temperature", temp_c, *RANGE_C), COLDEST_C)
    humidity = checked("relative humidity", rh, 1.0, 100.0)
    return plain(np.exp(-0.74 * np.log(temp) - 12.72 * np.log(humidity) + 61.50))


def largest_index(temp_c: ArrayLike, rh: ArrayLike, sensitivity: Sensitivity = Sensitivity.SENSITIVE) -> Any:
    """Index that constant climate leads to in the end (0 to 6)."""
    kind = _CLASSES[sensitivity]
    critical = np.asarray(critical_humidity(temp_c, sensitivity))
    humidity = checked("relative humidity", rh, 0.0, 100.0)
    # At 100 % critical humidity (cold) nothing grows and the ratio has no meaning.
    x = np.where(critical < 100.0, (critical - humidity) / np.minimum(critical - 100.0, -1e-9), 0.0)
    return plain(np.maximum(kind.a + kind.b * x - kind.c * x**2, 0.0) * (x >= 0.0))


def grows(temp_c: ArrayLike, rh: ArrayLike, sensitivity: Sensitivity = Sensitivity.SENSITIVE) -> Any:
    """Whether mould can grow at all in this climate."""
    temp = checked("temperature", temp_c, *RANGE_C)
    critical = np.asarray(critical_humidity(temp, sensitivity))
    return plain((temp > 0.0) & (temp < WARMEST_C) & (np.asarray(rh, dtype=np.float64) >= critical))


def growth_index(
    temp_c: ArrayLike,
    rh: ArrayLike,
    hours_per_step: float = 1.0,
    sensitivity: Sensitivity = Sensitivity.SENSITIVE,
    start: ArrayLike = 0.0,
) -> Array:
    """Index after each step of a climate: ``temp_c`` and ``rh`` of shape (steps,) or (n, steps); same shape out."""
    temp, humidity = np.broadcast_arrays(
        checked("temperature", temp_c, *RANGE_C), checked("relative humidity", rh, 0.0, 100.0)
    )
    growing = np.asarray(grows(temp, humidity, sensitivity))
    speed = hours_per_step / (168.0 * np.asarray(weeks_to_first_growth(temp, np.maximum(humidity, 1.0))))
    top = np.asarray(largest_index(temp, humidity, sensitivity))
    index = np.broadcast_to(np.asarray(start, dtype=np.float64), temp.shape[:-1]).copy()
    idle, out = np.zeros(temp.shape[:-1]), np.empty(temp.shape)
    for k in range(temp.shape[-1]):
        grown = _grow(index, speed[..., k], top[..., k], _CLASSES[sensitivity])
        idle = np.where(growing[..., k], 0.0, idle + hours_per_step)
        fallen = index - _decline(idle, hours_per_step, _CLASSES[sensitivity])
        index = np.where(growing[..., k], grown, np.maximum(fallen, 0.0))
        out[..., k] = index
    return out


def _grow(index: Array, speed: Array, top: Array, kind: _Class) -> Array:
    k1 = np.where(index < 1.0, kind.k1_start, kind.k1_grown)
    k2 = np.maximum(1.0 - np.exp(np.minimum(STEEPNESS * (index - top), 50.0)), 0.0)
    grown: Array = index + speed * k1 * k2
    return grown


def _decline(idle_hours: Array, hours: float, kind: _Class) -> Array:
    fast = idle_hours <= PAUSE_HOURS[0]
    slow = idle_hours > PAUSE_HOURS[1]
    per_day = np.where(fast, FAST_DECLINE_PER_DAY, np.where(slow, SLOW_DECLINE_PER_DAY, 0.0))
    fall: Array = per_day * kind.decline * hours / 24.0
    return fall


def weeks_to_index(
    temp_c: ArrayLike, rh: ArrayLike, index: float = 1.0, sensitivity: Sensitivity = Sensitivity.SENSITIVE
) -> Any:
    """Weeks of constant climate until the index is reached, ``inf`` where it never is (the growth law, integrated)."""
    kind = _CLASSES[sensitivity]
    top = np.asarray(largest_index(temp_c, rh, sensitivity))
    unit = np.asarray(weeks_to_first_growth(temp_c, np.maximum(np.asarray(rh, dtype=np.float64), 1.0)))
    first = _integral(min(index, 1.0), top) - _integral(0.0, top)
    weeks = unit * first / kind.k1_start
    if index > 1.0:
        weeks = weeks + unit * (_integral(index, top) - _integral(1.0, top)) / kind.k1_grown
    reached = (top > index) & np.asarray(grows(temp_c, rh, sensitivity))
    return plain(np.where(reached, weeks, np.inf))


def _integral(index: float, top: Array) -> Array:
    """Antiderivative of 1 / (1 - exp(STEEPNESS (M - top))) in M."""
    u = STEEPNESS * (index - top)
    value: Array = (u - np.log(np.maximum(1.0 - np.exp(np.minimum(u, 0.0)), 1e-300))) / STEEPNESS
    return value


def weeks_until_mould_if_closed(
    mc: ArrayLike, temp_c: ArrayLike, sensitivity: Sensitivity = Sensitivity.SENSITIVE, index: float = 1.0
) -> Any:
    """Weeks to ``index`` if the cavity were closed today over wood at ``mc`` [% MC] and kept at ``temp_c`` [deg C].

    The closed air takes the humidity that the wood's moisture implies; wood too wet for any humidity counts as
    saturated air. For ordering cases only: see the head of this file.
    """
    temp = checked("temperature", temp_c, -20.0, 60.0)
    moisture = checked("moisture content", mc, 0.0, 100.0)
    saturated = np.asarray(is_saturated(moisture, temp))
    humidity = np.asarray(humidity_over(np.where(saturated, 10.0, moisture), temp))
    return weeks_to_index(temp, np.where(saturated, 100.0, humidity), index, sensitivity)
