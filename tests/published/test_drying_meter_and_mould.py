"""Temperature slopes of pin meters, and the VTT mould model, against published and reference values."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from guide_service.drying.meter import temperature_correction, temperature_part
from guide_service.drying.mould import (
    Sensitivity,
    critical_humidity,
    growth_index,
    largest_index,
    weeks_to_first_growth,
    weeks_to_index,
    weeks_to_visible_growth,
)
from guide_service.drying.wood import emc

DATA = Path(__file__).parent / "data" / "drying"
CHECKS = json.loads((DATA / "science_checks.json").read_text())
HOURS_PER_WEEK = 168


def test_temperature_slope_lies_in_the_published_spread():
    """VTT Publications 420 (2000): about 0.10 to 0.15 % MC per deg C away from 20 deg C."""
    slope = (temperature_correction(5.0) - temperature_correction(15.0)) / 10.0
    assert 0.10 <= slope <= 0.15
    assert temperature_correction(20.0) == 0.0


def test_temperature_correction_agrees_with_the_regression_within_its_uncertainty():
    """Garrahan's regression (constants partly from memory; nothing hangs on it) from 0 to 40 deg C, 10 to 20 %."""
    for case in CHECKS["temp_corr_reference_species"]:
        if 10 <= case["reading"] <= 20:
            lift, u = temperature_part(case["T_C"], None)
            assert abs(case["reading"] + lift - case["MC"]) <= 2.0 * u + 0.4


def test_critical_humidity_of_the_cubic():
    for case in CHECKS["vtt_RHcrit"]:
        assert critical_humidity(case["T"]) == pytest.approx(case["RHcrit_cubic"], abs=1e-3)


def test_largest_index_of_all_four_classes():
    """Known class maxima 6, 5.3, 3.5, 2 at saturation, and reference values at 85 to 97 %."""
    for case in CHECKS["vtt_Mmax"]:
        found = largest_index(case["T"], case["RH"], Sensitivity(case["class"]))
        assert found == pytest.approx(case["Mmax"], abs=1e-3)


def test_weeks_of_the_original_model():
    for case in CHECKS["vtt_tm_weeks"]:
        assert weeks_to_first_growth(case["T"], case["RH"]) == pytest.approx(case["tm"], abs=1e-3)
        assert weeks_to_visible_growth(case["T"], case["RH"]) == pytest.approx(case["tv"], abs=1e-3)


def test_reference_run_of_the_published_program():
    """The MIT-licensed reference program's own example: 22 deg C, 90 %, sensitive, one year by the hour."""
    case = CHECKS["vtt_reference_run"]
    index = growth_index(np.full(52 * HOURS_PER_WEEK, case["T"]), np.full(52 * HOURS_PER_WEEK, case["RH"]))
    assert (np.argmax(index >= 1.0) + 1) / HOURS_PER_WEEK == pytest.approx(case["weeks_to_M1"], abs=0.01)
    assert (np.argmax(index >= 3.0) + 1) / HOURS_PER_WEEK == pytest.approx(case["weeks_to_M3"], abs=0.02)
    assert index[12 * HOURS_PER_WEEK - 1] == pytest.approx(case["M_week12"], abs=1e-3)
    assert index[-1] == pytest.approx(case["plateau"], abs=3e-3)


@pytest.mark.parametrize(
    ("kind", "temp", "rh", "first", "visible"),
    [
        ("vs", 20, 97, 1.49, 2.98),
        ("vs", 20, 95, 1.98, 3.97),
        ("vs", 20, 90, 4.21, 8.51),
        ("vs", 20, 85, 9.39, np.inf),
        ("s", 20, 97, 2.57, 10.29),
        ("s", 20, 90, 7.30, 40.0),
        ("s", 10, 97, 4.11, 16.5),
        ("s", 30, 97, 1.95, 7.81),
        ("vs", 20, 80, np.inf, np.inf),
    ],
)
def test_weeks_at_constant_climate(kind, temp, rh, first, visible):
    """Computed with the reference program by the hour, rounded as printed."""
    assert weeks_to_index(temp, rh, 1.0, Sensitivity(kind)) == pytest.approx(first, abs=0.02)
    assert weeks_to_index(temp, rh, 3.0, Sensitivity(kind)) == pytest.approx(visible, rel=0.005)


def test_dried_mould_keeps_almost_all_of_its_index():
    """Most sensitive class from 5.498 once dry: falls by 0.0040 to 6 h and 24 h, 0.0120 to 48 h, 0.2357 to 30 d
    (the reference counts one hourly step of 0.00033 less)."""
    dry = growth_index(np.full(720, 20.0), np.full(720, 40.0), 1.0, Sensitivity.VERY_SENSITIVE, start=5.498)
    for hour, fall in ((6, 0.0040), (24, 0.0040), (48, 0.0120), (720, 0.2357)):
        assert 5.498 - dry[hour - 1] == pytest.approx(fall, abs=4e-4)


def test_a_measured_wall_cavity_keeps_its_wood_and_mould_in_bounds():
    """TRH-database (CC BY 4.0), sill-plate corner of a wall in a Finnish winter: cold, humid, no mould by the model."""
    with (DATA / "wall_cavity_hourly.csv").open() as file:
        rows = list(csv.DictReader(file))
    temp = np.array([float(row["temp_c"]) for row in rows])
    rh = np.array([float(row["rh_pct"]) for row in rows])
    moisture = np.asarray(emc(np.clip(temp, -20.0, 60.0), rh))
    index = growth_index(temp, rh)
    assert np.isfinite(moisture).all()
    assert 5.0 < np.median(moisture) < 25.0
    assert index.min() >= 0.0
    assert index.max() < 1.0
