"""A pin meter's number as moisture content: correction, uncertainty and what the number may be used for.

Theory of operation
-------------------
A resistance meter is calibrated near 20 deg C; cold wood conducts worse and reads low. The correction used is the
published slope, 0.10 to 0.15 % MC per deg C (VTT Publications 420, Forsen & Tarvainen 2000), with its middle as value
and its half width as uncertainty. No species table is applied (none is verified): the county may set an offset.

Rules of this file
- A number outside the meter's range keeps its qualifier: it is never replaced by the bound.
- A correction for a temperature that nobody measured may raise a number, never lower it.
- Weight of a number: ``COUNTS`` may pass a place; ``SHOWS`` gives a band, passes nothing; ``WORSENS`` only worsens.
"""

from __future__ import annotations

import math
from enum import IntEnum
from functools import lru_cache
from typing import NamedTuple

from guide_service.drying.assessment import ReasonCode
from guide_service.drying.policy import Policy
from guide_service.drying.terms import (
    Air,
    Circumstances,
    Material,
    Mode,
    Qualifier,
    Reading,
    SelfCheck,
)

SLOPE_MC_PER_C = 0.12
"""Correction per deg C below 20 [% MC]; middle of 0.10 to 0.15 (VTT Publications 420, 2000)."""
U_SLOPE_MC_PER_C = 0.05
"""Standard uncertainty of that slope [% MC per deg C]; spans the published slopes and makers' examples."""
NEUTRAL_C = 20.0
CLAMP_C = (-10.0, 50.0)
CLAMP_MC = 4.0
"""The correction holds in this range only (own choice; published examples reach 10 to 50 deg C)."""
U_UNKNOWN_TEMP_C = 5.0
"""Standard uncertainty of an unmeasured wood temperature indoors [deg C]. Assumed."""
COLD_MONTH_C = 15.0
"""Outdoor mean below which wood without heating is taken to be as cold as outside [deg C]. Assumed."""


class Weight(IntEnum):
    WORSENS = 0
    SHOWS = 1
    COUNTS = 2


class Judged(NamedTuple):
    """One reading with its corrected value [% MC], uncertainty parts [% MC] and weight."""

    reading: Reading
    mc: float
    u_shared: float
    """Part common to all readings of the household (meter, species, temperature)."""
    u_own: float
    """Noise of this one push, with the step of the display."""
    weight: Weight
    reason: ReasonCode | None


def assumed_temp_c(air: Air, circumstances: Circumstances) -> float | None:
    """Wood temperature [deg C] to assume where none was measured; ``None`` = take the meter's own 20 deg C."""
    if air.indoor_temp_c is not None:
        return air.indoor_temp_c
    outside = air.outdoor_temp_c
    if circumstances.power_on is False and outside is not None and outside < COLD_MONTH_C:
        return outside
    return None


def temperature_correction(temp_c: float) -> float:
    """Add this [% MC] to a reading taken on wood of ``temp_c`` [deg C]; clamped to where the slope holds."""
    bounded = min(max(temp_c, CLAMP_C[0]), CLAMP_C[1])
    return min(max(SLOPE_MC_PER_C * (NEUTRAL_C - bounded), -CLAMP_MC), CLAMP_MC)


def temperature_part(measured_c: float | None, assumed_c: float | None) -> tuple[float, float]:
    """Correction and its standard uncertainty [% MC], from a measured or an assumed wood temperature [deg C]."""
    if measured_c is not None:
        away = abs(NEUTRAL_C - min(max(measured_c, CLAMP_C[0]), CLAMP_C[1]))
        return temperature_correction(measured_c), U_SLOPE_MC_PER_C * away
    lift = 0.0 if assumed_c is None else max(temperature_correction(assumed_c), 0.0)
    return lift, SLOPE_MC_PER_C * U_UNKNOWN_TEMP_C


def on_wood(reading: Reading) -> bool:
    """Whether the reading stands on wood or a wood panel (identity tests: run for every reading of every text)."""
    material = reading.material
    return material is Material.WOOD or material is Material.SHEATHING or material is Material.TREATED


@lru_cache(maxsize=4096)
def _parts(
    measured_c: float | None, assumed_c: float | None, resolution: float, u_meter: float, u_noise: float
) -> tuple[float, float, float]:
    """Correction, shared and own standard uncertainty [% MC]."""
    lift, u_temp = temperature_part(measured_c, assumed_c)
    return lift, math.hypot(u_meter, u_temp), math.hypot(u_noise, resolution / math.sqrt(12.0))


def over_range_unsaid(reading: Reading) -> bool:
    """Over the range of a meter that shows no number for it ("OL"): wet on every scale, however far it is not known."""
    return reading.value is None and reading.colour is None and reading.qualifier is Qualifier.ABOVE


def weigh(reading: Reading) -> tuple[Weight, ReasonCode | None]:
    """What this reading may be used for, with the reason when it does not count in full."""
    mode = reading.mode
    if not on_wood(reading):
        return Weight.WORSENS, ReasonCode.RELATIVE_ONLY
    if reading.value is None or not (mode is Mode.WOOD_PINS or mode is Mode.NOT_ASKED):
        return Weight.WORSENS, ReasonCode.OVER_RANGE if over_range_unsaid(reading) else ReasonCode.NOT_WOOD_SETTING
    if reading.recall is not None:
        return Weight.WORSENS, ReasonCode.METER_RECALLED
    if reading.self_check is SelfCheck.FAILED:
        return Weight.WORSENS, ReasonCode.METER_FAILED_CHECK
    if not reading.confirmed:
        return Weight.SHOWS, ReasonCode.UNCONFIRMED
    if mode is Mode.NOT_ASKED:
        return Weight.SHOWS, ReasonCode.MODE_NOT_ASKED
    return Weight.COUNTS, None


def judge(reading: Reading, policy: Policy, assumed_c: float | None = None) -> Judged:
    """Corrected value, uncertainty and weight of one reading.

    Raises ``ValueError`` for a wood reading that is not a number from 0 to 100 % MC.
    """
    weight, reason = weigh(reading)
    value = reading.value
    if value is None or not on_wood(reading):
        return Judged(reading, math.nan if value is None else value, 0.0, 0.0, weight, reason)
    if not 0.0 <= value <= 100.0:
        raise ValueError(f"moisture content must be from 0 to 100 %, not {value}")
    lift, u_shared, u_own = _parts(reading.temp_c, assumed_c, reading.resolution, policy.u_meter_mc, policy.u_noise_mc)
    # Above fibre saturation (and out of range in general) the calibration does not hold: no correction there.
    mc = value + lift + policy.species_offset_mc if reading.qualifier is Qualifier.EXACT else value
    return Judged(reading, mc, u_shared, u_own, weight, reason)
