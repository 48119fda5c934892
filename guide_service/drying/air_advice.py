"""What the air can do: where it leads the wood, and whether to open the windows, close them and dehumidify, or heat.

Opening dries the house only when the air outside holds less water than the air inside (humidity ratio, not relative
humidity) and, once warmed, leads the wood well below the limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from guide_service.drying.evidence import Level
from guide_service.drying.policy import Policy
from guide_service.drying.psychrometrics import humidity_ratio
from guide_service.drying.terms import Air, Circumstances
from guide_service.drying.wood import RANGE_C, emc, indoor_emc_of_outdoor_air

MARGIN_KG_PER_KG = 0.001
"""Difference of humidity ratio that counts: sensors of +-3 % RH and +-0.5 deg C make half of it (own estimate)."""
EMC_MARGIN_MC = 2.0
"""Air whose equilibrium is nearer to the limit than this cannot dry the wood in useful time [% MC] (own choice)."""
HEAT_BY_C = 8.0
COLD_ROOM_C = 15.0
USUAL_ROOM_C = 20.0
U_REPORTED, U_WEATHER = 1.5, 2.0
"""Standard uncertainty of the equilibrium [% MC]: formula and desorption 1.0, changes from day to day 1.0; more where
the indoor air is worked out from the weather or from monthly normals. Own estimates."""


class Ventilation(StrEnum):
    """What to do about the air."""

    OPEN = "open"
    CLOSE_AND_DEHUMIDIFY = "close_and_dehumidify"
    HEAT = "heat"
    EITHER = "either"
    """The two airs differ by less than the sensors can tell, and the wood can dry as it is."""
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class AirAdvice:
    ventilation: Ventilation
    cannot_dry: bool = False
    """Whether neither air can bring the wood well below the limit."""


@lru_cache(maxsize=4096)
def indoor_equilibrium(air: Air, power_on: bool | None = None) -> tuple[float, float] | None:
    """Equilibrium [% MC] of the air at the wood and its standard uncertainty; ``None`` = nothing known of the air."""
    if air.indoor_rh is not None:
        return emc(_temp(air.indoor_temp_c), _humid(air.indoor_rh)), U_REPORTED
    if air.outdoor_temp_c is None or air.outdoor_rh is None:
        return None
    outside = _temp(air.outdoor_temp_c)
    unheated = outside if power_on is False else max(outside, USUAL_ROOM_C)
    inside = unheated if air.indoor_temp_c is None else _temp(air.indoor_temp_c)
    return indoor_emc_of_outdoor_air(outside, _humid(air.outdoor_rh), inside), U_WEATHER


def _temp(temp_c: float | None) -> float:
    """A usual room where the temperature is not known; held to where the equation of equilibrium holds."""
    return USUAL_ROOM_C if temp_c is None else min(max(temp_c, RANGE_C[0]), RANGE_C[1])


def _humid(rh: float) -> float:
    return min(max(rh, 0.0), 100.0)


def equilibrium_of(air: Air, circumstances: Circumstances, policy: Policy) -> Level:
    """Equilibrium to judge readings against [% MC]: the air's where known, never taken drier than is usual.

    Air that was measured drier than the county's usual is averaged with it (one odd humidity reading must not weaken
    the check of the meter); air measured wetter stands as it is.
    """
    usual = Level(policy.air_emc_mc, policy.u_air_emc_mc)
    known = indoor_equilibrium(air, circumstances.power_on)
    if known is None:
        return usual
    value, u = known
    if value >= usual.mc:
        return Level(value, u)
    weight = u**-2 / (u**-2 + usual.se**-2)
    return Level(weight * value + (1.0 - weight) * usual.mc, (u**-2 + usual.se**-2) ** -0.5)


def advise(air: Air, policy: Policy) -> AirAdvice:
    """What to do about the air, from temperatures [deg C] and humidities [%] inside and outside."""
    if air.outdoor_temp_c is None or air.outdoor_rh is None or air.indoor_rh is None:
        return _advise_from_inside(air, policy)
    inside_c, outside_c = _temp(air.indoor_temp_c), _temp(air.outdoor_temp_c)
    inside_rh, outside_rh = _humid(air.indoor_rh), _humid(air.outdoor_rh)
    inside, outside = humidity_ratio(inside_c, inside_rh), humidity_ratio(outside_c, outside_rh)
    indoor, outdoor = emc(inside_c, inside_rh), indoor_emc_of_outdoor_air(outside_c, outside_rh, inside_c)
    target = policy.dry_below_mc - EMC_MARGIN_MC
    cannot = min(indoor, outdoor) > target
    if outside < inside - MARGIN_KG_PER_KG and outdoor <= target:
        return AirAdvice(Ventilation.OPEN, cannot)
    if inside_c < COLD_ROOM_C and _heated(inside_rh, inside_c) <= target < indoor:
        return AirAdvice(Ventilation.HEAT, cannot)
    if outside > inside + MARGIN_KG_PER_KG or indoor > target:
        return AirAdvice(Ventilation.CLOSE_AND_DEHUMIDIFY, cannot)
    return AirAdvice(Ventilation.EITHER, cannot)


def _heated(inside_rh: float, inside_c: float) -> float:
    """Equilibrium [% MC] of the indoor air once heated, nothing added to its water."""
    warmer = min(inside_c + HEAT_BY_C, RANGE_C[1])
    heated: float = indoor_emc_of_outdoor_air(inside_c, inside_rh, warmer)
    return heated


def _advise_from_inside(air: Air, policy: Policy) -> AirAdvice:
    """Without both airs only too humid a room can be told."""
    if air.indoor_rh is None:
        return AirAdvice(Ventilation.UNKNOWN)
    indoor = emc(_temp(air.indoor_temp_c), _humid(air.indoor_rh))
    too_humid = indoor > policy.dry_below_mc - EMC_MARGIN_MC
    return AirAdvice(Ventilation.CLOSE_AND_DEHUMIDIFY if too_humid else Ventilation.UNKNOWN, too_humid)
