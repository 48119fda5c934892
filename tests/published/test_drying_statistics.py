"""Censored likelihood and forecast dates against lifelines, scipy and the Fieller worked check."""

from __future__ import annotations

import json
import math
import warnings
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from lifelines import LogNormalAFTFitter
from scipy import stats
from scipy.optimize import minimize

from guide_service.drying import forecast as forecast_module
from guide_service.drying.censoring import NUMBER, OVER, UNDER, log_likelihood, slopes
from guide_service.drying.forecast import Batch, forecast

CHECKS = json.loads((Path(__file__).parent / "data" / "drying" / "science_checks.json").read_text())


def entries(values):
    level = np.array([float(str(value).lstrip("<>")) for value in values])
    kind = np.array([{">": OVER, "<": UNDER}.get(str(value)[0], NUMBER) for value in values], np.int8)
    return level, kind


def fit_line(t, level, kind):
    def cost(p):
        return -log_likelihood(level, kind, p[0] + p[1] * t, math.exp(p[2]))

    best = minimize(
        cost, [level[0], -0.5, 0.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 9000}
    )
    return best.x[0], best.x[1], math.exp(best.x[2]), -best.fun


def test_tobit_line_with_readings_over_range():
    """Two readings over 30, then 27.2 to 20.2: slope, level, noise and log-likelihood of the censored regression."""
    case = CHECKS["tobit"]
    level, kind = entries(case["y"])
    intercept, slope, sigma, best = fit_line(np.array(case["t"], float), level, kind)
    assert slope == pytest.approx(case["slope"], abs=1e-4)
    assert intercept == pytest.approx(case["intercept"], abs=1e-3)
    assert sigma == pytest.approx(case["sigma"], abs=1e-4)
    assert best == pytest.approx(case["loglik"], abs=1e-6)


def test_lifelines_finds_the_same_line():
    """A log-normal accelerated-failure model of exp(y - 25) is the same censored regression (lifelines)."""
    case = CHECKS["tobit"]
    level, kind = entries(case["y"])
    frame = pd.DataFrame({"t": case["t"], "T": np.exp(level - 25.0), "seen": kind == NUMBER})
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fitted = LogNormalAFTFitter().fit(frame, "T", "seen")
    _, slope, sigma, _ = fit_line(np.array(case["t"], float), level, kind)
    assert fitted.params_.loc[("mu_", "t")] == pytest.approx(slope, abs=1e-4)
    assert math.exp(fitted.params_.loc[("sigma_", "Intercept")]) == pytest.approx(sigma, abs=1e-4)


@pytest.mark.parametrize("case", CHECKS["censored_normal"])
def test_censored_normal_against_scipy(case):
    """Mean and spread with readings over and under range, as scipy.stats.norm.fit(CensoredData) finds them."""
    data = stats.CensoredData(uncensored=case["x"], right=case.get("right", []), left=case.get("left", []))
    mean, sd = stats.norm.fit(data)
    assert (mean, sd) == (pytest.approx(case["mu"], abs=1e-3), pytest.approx(case["sd"], abs=1e-3))
    level = np.array(case["x"] + case.get("right", []) + case.get("left", []), float)
    kind = np.array(
        [NUMBER] * len(case["x"]) + [OVER] * len(case.get("right", [])) + [UNDER] * len(case.get("left", [])), np.int8
    )
    mine = minimize(
        lambda p: -log_likelihood(level, kind, np.full(level.size, p[0]), math.exp(p[1])),
        [level.mean(), 0.0],
        method="Nelder-Mead",
        options={"xatol": 1e-8, "fatol": 1e-12},
    )
    assert mine.x[0] == pytest.approx(case["mu"], abs=1e-3)
    assert math.exp(mine.x[1]) == pytest.approx(case["sd"], abs=1e-3)


def test_slopes_are_those_of_the_likelihood():
    level, kind = entries([">28", 20.0, "<7", 9.0])
    fitted, sd = np.array([26.0, 21.0, 8.0, 9.5]), 0.9
    pull, curve = slopes(level, kind, fitted, np.full(4, sd**-2))
    for k in range(4):
        up, down = fitted.copy(), fitted.copy()
        up[k] += 1e-4
        down[k] -= 1e-4
        high, middle, low = (log_likelihood(level, kind, f, sd) for f in (up, fitted, down))
        assert pull[k] == pytest.approx((high - low) / 2e-4, rel=1e-5)
        assert curve[k] == pytest.approx(-(high - 2 * middle + low) / 1e-8, rel=1e-3)


def fieller(t, y, end, target, s, q):
    """Date and limits of an exponential approach with known end: log(y - E) is a line, weighted (delta method)."""
    t, y = np.asarray(t, float), np.asarray(y, float)
    z, w, z0 = np.log(y - end), (y - end) ** 2, math.log(target - end)
    mean_t, mean_z = np.average(t, weights=w), np.average(z, weights=w)
    sxx = (w * (t - mean_t) ** 2).sum()
    b = (w * (t - mean_t) * z).sum() / sxx
    a2, a1 = b * b - q * q * s * s / sxx, b * (mean_z - z0)
    a0 = (mean_z - z0) ** 2 - q * q * s * s / w.sum()
    root = math.sqrt(a1 * a1 - a2 * a0)
    return mean_t, b, mean_t + (z0 - mean_z) / b, mean_t + (-a1 - root) / a2, mean_t + (-a1 + root) / a2


CASE = {"t": [0, 4, 8, 12], "y": [28.4, 23.7, 20.9, 18.1], "end": 11.0, "target": 15.0, "s": 0.65}


def test_fieller_worked_check():
    """Computed check of the sheet: date 20.024 days, 90 % interval 17.765 to 23.061."""
    mean_t, slope, date, early, late = fieller(**CASE, q=1.645)
    assert (mean_t, slope) == (pytest.approx(3.32122, abs=1e-4), pytest.approx(-0.0732369, abs=1e-6))
    assert (date, early, late) == tuple(pytest.approx(x, abs=2e-3) for x in (20.024, 17.765, 23.061))


def test_the_forecast_agrees_with_fieller_where_it_is_told_what_fieller_knows(monkeypatch):
    """Known end, perfect meter, no ageing of the shape: the 80 % range is Fieller's to half a day."""
    for name, value in {"READING_MC": 0.65, "AGEING_DAYS": 1e6, "WANDER_MC": 0.0}.items():
        monkeypatch.setattr(forecast_module, name, value)
    monkeypatch.setattr(forecast_module, "STIFFENING_PER_MC", 0.0)
    monkeypatch.setattr(forecast_module, "STIFFENING_SD", 0.0)
    batch = Batch(
        days=np.array([[-12.0, -8.0, -4.0, 0.0]]),
        level=np.array([CASE["y"]]),
        kind=np.zeros((1, 4), np.int8),
        tau=np.array([14.0]),
        tau_log_sd=np.array([5.0]),
        equilibrium=np.array([11.0]),
        u_equilibrium=np.array([1e-3]),
        u_shared=np.array([1e-3]),
    )
    crossing = forecast(batch, 15.0)
    _, _, date, early, late = fieller(**CASE, q=1.2816)
    assert crossing.likely[0] + 12.0 == pytest.approx(date, abs=0.5)
    assert crossing.early[0] + 12.0 == pytest.approx(early, abs=0.5)
    assert crossing.late[0] + 12.0 == pytest.approx(late, abs=0.5)
