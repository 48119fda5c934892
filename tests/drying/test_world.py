"""The judging world keeps to its ranges, is the same for the same seed, and its meters are wrong as stated."""

from __future__ import annotations

import numpy as np
import pytest

from guide_service.rehearsal.diffusion import Pieces, at_depth, step
from guide_service.rehearsal.drying_world import build, read
from guide_service.rehearsal.world_ranges import ADVERSE, CENTRAL, WorldRanges

HOUSES = build(7, 60, 3)


def test_the_same_seed_is_the_same_world():
    again = build(7, 60, 3)
    assert (again.truth == HOUSES.truth).all()
    assert not (build(8, 60, 3).truth == HOUSES.truth).all()


def test_wood_starts_wet_and_stays_wood():
    ranges = WorldRanges()
    assert HOUSES.truth.shape == (180, ranges.horizon_days + 1, 3)
    assert HOUSES.truth[:, 0].max() <= ranges.start_range[1]
    assert HOUSES.truth.min() > 3.0
    assert (HOUSES.section_max >= HOUSES.worst - 1e-9).all()


def test_places_without_a_fault_dry_in_weeks_not_days():
    usual = ~HOUSES.covered & np.isinf(HOUSES.new_water_day) & ~np.repeat(HOUSES.humid, 3)
    dry_on = (HOUSES.worst[usual] < 15.0).argmax(axis=1)
    assert 10 < np.median(dry_on[dry_on > 0]) < 70


def test_covered_places_hardly_dry():
    assert (HOUSES.worst[HOUSES.covered, 60] > 15.0).mean() > 0.8


@pytest.mark.parametrize("meter", [CENTRAL, ADVERSE])
def test_meters_show_steps_ends_and_their_own_error(meter):
    shown = read(HOUSES, 9, meter)
    value = shown.value[~np.isnan(shown.value)]
    assert set(np.unique(shown.resolution)) <= set(meter.resolutions)
    assert (shown.value[shown.above] == meter.ends[1]).all()
    assert np.isnan(shown.value).mean() == pytest.approx(0.1, abs=0.01)
    number = ~shown.above & ~shown.below & ~np.isnan(shown.value)
    off = (shown.value - HOUSES.truth)[number]
    assert 0.8 < off.std() < (1.6 if meter is CENTRAL else 2.6)
    assert value.min() >= 1.0


def test_water_is_only_lost_through_the_open_faces():
    pieces = Pieces(np.array([38.0, 38.0]), np.array([2.0, 1.0]), np.full(2, 1.2e-10), np.full(2, 0.05))
    mc, air, temp = np.full((2, 20), 25.0), np.full(2, 10.0), np.full(2, 20.0)
    for _ in range(40):
        mc = step(mc, pieces, air, temp, 0.25)
    assert mc[0].mean() < mc[1].mean() < 25.0
    assert (np.diff(mc[1]) >= -1e-9).all(), "one open face: wetter towards the closed one"
    assert mc[0] == pytest.approx(mc[0][::-1])
    assert at_depth(mc, pieces.thickness_mm, np.array([[6.0], [6.0]]))[1] > 10.0


def test_wood_in_equilibrium_stays_there():
    pieces = Pieces(np.array([38.0]), np.array([2.0]), np.full(1, 1.2e-10), np.full(1, 0.05))
    mc = step(np.full((1, 20), 12.0), pieces, np.array([12.0]), np.array([20.0]), 5.0)
    assert mc == pytest.approx(np.full((1, 20), 12.0))
