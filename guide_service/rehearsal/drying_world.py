"""Flooded houses as the judge of decisions sees them: the true moisture of every point, and what a meter would show."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from guide_service.rehearsal.diffusion import CELLS, Array, Pieces, at_depth, step
from guide_service.rehearsal.world_ranges import CENTRAL, MeterRanges, WorldRanges

STEPS_PER_DAY = 4
POINTS = 3


@dataclass(frozen=True, slots=True)
class Houses:
    """``houses`` x ``per_house`` places over the horizon; place ``i`` stands in house ``i // per_house``."""

    per_house: int
    construction: np.ndarray
    """(n,) index into the ranges' constructions."""
    truth: Array
    """(n, days, points) true moisture at pin depth [% MC]."""
    section_max: Array
    """(n, days) wettest of the whole section [% MC]."""
    temp_c: Array
    """(houses, days)."""
    emc: Array
    """(houses, days) equilibrium of the air [% MC]."""
    emc_mean: Array
    """(houses,)."""
    humid: np.ndarray
    covered: np.ndarray
    new_water_day: Array
    """(n,) first day of new water, ``inf`` = none."""

    @property
    def worst(self) -> Array:
        """(n, days) wettest point at pin depth [% MC]."""
        wettest: Array = self.truth.max(axis=2)
        return wettest


@dataclass(frozen=True, slots=True)
class Shown:
    """What the meters show, day by day, had they been used: shapes ``(n, days, points)``."""

    value: Array
    """``nan`` = the point was skipped."""
    below: np.ndarray
    above: np.ndarray
    resolution: Array
    """(houses,)."""
    temp_known: np.ndarray
    """(houses,)."""


def _uniform(rng: np.random.Generator, bounds: tuple[float, float], size: int | tuple[int, ...]) -> Array:
    return rng.uniform(bounds[0], bounds[1], size)


def air_of(ranges: WorldRanges, houses: int, rng: np.random.Generator) -> tuple[Array, Array, Array, np.ndarray]:
    """Daily temperature, daily equilibrium moisture, its mean, and which houses have air too humid to dry in."""
    days = ranges.horizon_days + 1
    temp = _uniform(rng, ranges.temp_mean, (houses, 1)) + ranges.temp_day_sd * rng.standard_normal((houses, days))
    humid = rng.random(houses) < ranges.humid_share
    mean = np.where(humid, _uniform(rng, ranges.humid_emc_mean, houses), _uniform(rng, ranges.emc_mean, houses))
    keep = np.exp(-1.0 / ranges.emc_memory_days)
    wander = np.empty((houses, days))
    wander[:, 0] = rng.standard_normal(houses)
    for day in range(1, days):
        wander[:, day] = keep * wander[:, day - 1] + np.sqrt(1 - keep**2) * rng.standard_normal(houses)
    rain = rng.random((houses, days)) < _uniform(rng, ranges.rain_day_share, (houses, 1))
    wetter = np.where(rain, _uniform(rng, ranges.rain_day_emc_plus, (houses, days)), 0.0)
    emc = np.clip(mean[:, None] + ranges.emc_day_sd * wander + wetter, 4.0, 26.0)
    return temp, emc, mean, humid


def build(seed: int, houses: int, per_house: int = 6, ranges: WorldRanges | None = None) -> Houses:
    """Houses of one seed, dried through the whole horizon."""
    ranges = ranges or WorldRanges()
    rng = np.random.default_rng(seed)
    temp, emc, emc_mean, humid = air_of(ranges, houses, rng)
    n = houses * per_house
    kind = rng.choice(len(ranges.constructions), n, p=[c.share for c in ranges.constructions])
    covered = rng.random(n) < ranges.covered_share
    pieces = _pieces(ranges, kind, covered, rng)
    water = np.where(rng.random(n) < ranges.new_water_share, _uniform(rng, ranges.new_water_day, n), np.inf)
    truth, section = _dry(ranges, pieces, temp, emc, water, per_house, rng)
    return Houses(per_house, kind, truth, section, temp, emc, emc_mean, humid, covered, water)


def _pieces(ranges: WorldRanges, kind: np.ndarray, covered: np.ndarray, rng: np.random.Generator) -> Pieces:
    table = ranges.constructions
    factor = np.array([c.diffusivity_factor for c in table])[kind] * np.where(covered, ranges.covered_factor, 1.0)
    spread = np.exp(ranges.diffusivity_log_sd * rng.standard_normal(kind.size))
    return Pieces(
        thickness_mm=np.array([c.thickness_mm for c in table])[kind],
        faces=np.array([float(c.faces) for c in table])[kind],
        diffusivity=ranges.diffusivity_median * spread * factor,
        growth_per_mc=_uniform(rng, ranges.diffusivity_growth_per_mc, kind.size),
        doubling_c=ranges.diffusivity_doubling_c,
    )


def _start(ranges: WorldRanges, pieces: Pieces, rng: np.random.Generator) -> Array:
    """Starting profile: wet inside, the open face lower, straight between them over the first quarter."""
    n = pieces.thickness_mm.size
    core = np.clip(ranges.start_mean + ranges.start_sd * rng.standard_normal(n), *ranges.start_range)
    lower = _uniform(rng, ranges.surface_lower_by, n)
    depth = (np.arange(CELLS) + 0.5) / CELLS
    near = np.maximum(1.0 - 4.0 * depth, 0.0)[None, :]
    far = np.where(pieces.faces[:, None] > 1, near[:, ::-1], 0.0)
    return core[:, None] - lower[:, None] * np.maximum(near, far)


def _dry(
    ranges: WorldRanges,
    pieces: Pieces,
    temp: Array,
    emc: Array,
    water: Array,
    per_house: int,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    n, days = water.size, ranges.horizon_days + 1
    mc = _start(ranges, pieces, rng)
    depth = np.minimum(_uniform(rng, ranges.pin_depth_mm, (n, POINTS)), 0.9 * pieces.thickness_mm[:, None])
    plus = _uniform(rng, ranges.new_water_plus, n)
    again = water + _uniform(rng, ranges.new_water_again, n)
    truth, section = np.empty((n, days, POINTS)), np.empty((n, days))
    house = np.arange(n) // per_house
    for day in range(days):
        for event in (water, again):
            wet = np.floor(event) == day
            mc[wet] += plus[wet, None]
        truth[:, day] = at_depth(mc, pieces.thickness_mm, depth)
        section[:, day] = mc.max(axis=1)
        for _ in range(STEPS_PER_DAY):
            mc = step(mc, pieces, emc[house, day], temp[house, day], 1.0 / STEPS_PER_DAY)
    return truth, section


def read(houses: Houses, seed: int, meter: MeterRanges = CENTRAL, ranges: WorldRanges | None = None) -> Shown:
    """What one meter per house would show at every point on every day."""
    ranges = replace(ranges or WorldRanges(), meter=meter)
    rng = np.random.default_rng(seed)
    n, days, points = houses.truth.shape
    count = n // houses.per_house
    house = np.arange(n) // houses.per_house
    bias = meter.bias_sd * rng.standard_normal(count) + _uniform(rng, meter.species_bias, count)
    spot = meter.spot_sd * rng.standard_normal((n, 1, points))
    noise = meter.noise_sd * rng.standard_normal((n, days, points))
    cold = meter.temperature_error_per_c * (houses.temp_c[house] - 20.0)[:, :, None]
    number = houses.truth + bias[house][:, None, None] + spot + noise + cold
    resolution = rng.choice(np.array(meter.resolutions), count)
    step_of = resolution[house][:, None, None]
    low, high = meter.ends
    below, above = number < low, number > high
    value = np.clip(np.round(number / step_of) * step_of, low, high)
    value = _typed(value, below | above, ranges.typing_error, rng)
    skipped = rng.random(value.shape) < ranges.skips_point
    value[skipped] = np.nan
    known = rng.random(count) < meter.temperature_known_share
    return Shown(value, below & ~skipped, above & ~skipped, resolution, known)


def _typed(value: Array, censored: np.ndarray, share: float, rng: np.random.Generator) -> Array:
    """Numbers as typed: now and then one digit is wrong (ten too many or too few, or another last digit)."""
    wrong = (rng.random(value.shape) < share) & ~censored
    slips = rng.choice(np.array([-10.0, 10.0, -3.0, -2.0, -1.0, 1.0, 2.0, 3.0]), value.shape)
    return np.where(wrong, np.clip(value + slips, 1.0, 60.0), value)
