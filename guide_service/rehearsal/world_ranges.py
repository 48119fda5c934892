"""Ranges of the simulated world in which drying decisions are judged.

Moisture content in % of oven-dry mass, lengths in mm, temperatures in deg C, diffusivity in m2/s, time in days. The
ranges are invented around published values: diffusivity of softwood across the grain 0.7 to 3.0e-10 m2/s (van der Kamp
and others 2017, fitted to fuel sticks; vapour permeance of ISO 10456), wood read within 2 % MC of oven-dry (Wengert &
Bois 1997, second hand). Nothing here is known to the forecast or to the closing rule.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Construction:
    """One kind of place, with its share of all places."""

    name: str
    share: float
    thickness_mm: float
    faces: int
    diffusivity_factor: float = 1.0


@dataclass(frozen=True, slots=True)
class MeterRanges:
    """How wrong a meter and its use may be."""

    bias_sd: float
    spot_sd: float
    noise_sd: float
    resolutions: tuple[float, ...]
    ends: tuple[float, float]
    temperature_error_per_c: float
    temperature_known_share: float
    species_bias: tuple[float, float] = (0.0, 0.0)


CENTRAL = MeterRanges(0.6, 0.6, 0.7, (0.1, 0.5, 1.0), (6.0, 28.0), 0.12, 0.5)
ADVERSE = MeterRanges(1.2, 1.0, 1.0, (1.0,), (7.0, 25.0), 0.15, 0.2, (-1.7, 1.0))


@dataclass(frozen=True, slots=True)
class WorldRanges:
    horizon_days: int = 150
    pin_depth_mm: tuple[float, float] = (6.0, 12.0)
    constructions: tuple[Construction, ...] = (
        Construction("stud, both faces open", 0.55, 38.0, 2),
        Construction("stud, one face open", 0.25, 38.0, 1),
        Construction("plate on slab, one face open", 0.12, 38.0, 1, 0.8),
        Construction("sheathing behind, one face open", 0.08, 11.0, 1, 0.5),
    )
    start_mean: float = 34.0
    start_sd: float = 9.0
    start_range: tuple[float, float] = (17.0, 70.0)
    surface_lower_by: tuple[float, float] = (0.0, 6.0)
    diffusivity_median: float = 1.2e-10
    """At 15 % MC and 20 deg C."""
    diffusivity_log_sd: float = 0.45
    diffusivity_growth_per_mc: tuple[float, float] = (0.03, 0.09)
    diffusivity_doubling_c: float = 11.0
    temp_mean: tuple[float, float] = (12.0, 27.0)
    temp_day_sd: float = 2.5
    emc_mean: tuple[float, float] = (8.5, 13.5)
    emc_day_sd: float = 1.0
    emc_memory_days: float = 3.0
    rain_day_share: tuple[float, float] = (0.05, 0.3)
    rain_day_emc_plus: tuple[float, float] = (1.0, 4.0)
    humid_share: float = 0.06
    humid_emc_mean: tuple[float, float] = (15.5, 19.0)
    covered_share: float = 0.05
    covered_factor: float = 0.08
    new_water_share: float = 0.07
    new_water_day: tuple[float, float] = (6.0, 60.0)
    new_water_plus: tuple[float, float] = (4.0, 20.0)
    new_water_again: tuple[float, float] = (2.0, 8.0)
    answers_on_the_day: float = 0.7
    late_days_mean: float = 2.5
    skips_point: float = 0.1
    typing_error: float = 0.01
    meter: MeterRanges = field(default_factory=lambda: CENTRAL)
