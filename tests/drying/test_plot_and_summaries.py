"""The picture of a place, and counts of many places."""

from __future__ import annotations

import datetime as dt
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from guide_service.drying.assessment import Forecast, ForecastKind
from guide_service.drying.forecast import Crossing
from guide_service.drying.plot import Curve, plot_place
from guide_service.drying.policy import Policy
from guide_service.drying.summaries import PlaceTable, band_codes, summarise
from guide_service.drying.terms import Point, Qualifier
from tests.drying.factories import START, check, reading

POLICY = Policy()
DATED = Forecast(
    ForecastKind.DATE,
    START + dt.timedelta(days=12),
    START + dt.timedelta(days=20),
    START + dt.timedelta(days=33),
)
READINGS = [
    *check(0, [22, 20, 18]),
    *check(5, [19, 17, 16]),
    reading(5, Point.SHEATHING, 28, qualifier=Qualifier.ABOVE),
    reading(5, Point.WOOD, 6, qualifier=Qualifier.BELOW),
]


def elements(svg, name):
    return [node for node in ET.fromstring(svg).iter() if node.tag.endswith("}" + name)]


def test_every_reading_has_a_mark_and_out_of_range_ones_an_arrow():
    svg = plot_place(READINGS, POLICY, name="K1")
    marks = len(elements(svg, "circle")) + len(elements(svg, "rect")) - 2
    triangles = [node for node in elements(svg, "path") if node.get("d", "").endswith("9h-10z")]
    assert marks + len(triangles) == len(READINGS) + 5  # five kinds of point stand in the legend
    arrows = [node for node in elements(svg, "path") if "v-9" in node.get("d", "") or "v9" in node.get("d", "")]
    assert len(arrows) == 2


def test_bands_are_words_and_lines_not_colours():
    svg = plot_place(READINGS, POLICY)
    texts = {node.text for node in elements(svg, "text")}
    assert {"wet", "caution", "dry"} <= texts
    dashes = {node.get("stroke-dasharray") for node in elements(svg, "line")} - {None}
    assert len(dashes) == 2
    colours = {node.get(key) for node in ET.fromstring(svg).iter() for key in ("fill", "stroke")} - {None, "none"}
    assert all(re.fullmatch(r"#(.{1,2})\1\1", colour) for colour in colours), "greys only"


def test_forecast_and_curve_are_drawn_where_known():
    curve = Curve(START + dt.timedelta(days=5), 19.0, 11.0, 14.0)
    svg = plot_place(READINGS, POLICY, DATED, curve)
    assert len(elements(svg, "polyline")) == 3
    assert len(elements(plot_place(READINGS, POLICY, DATED), "polyline")) == 0
    assert len(elements(plot_place(READINGS, POLICY, None, curve), "polyline")) == 1
    unreachable = Curve(START, 19.0, 16.0, 14.0)
    assert len(elements(plot_place(READINGS, POLICY, DATED, unreachable), "polyline")) == 0


def test_the_curve_meets_the_limit_on_the_likely_day():
    curve = Curve(START, 19.0, 11.0, 14.0)
    pace = curve.pace_to(15.0, 20.0)
    assert pace is not None
    assert curve.at(20.0, pace) == pytest.approx(15.0)


def test_a_curve_is_taken_from_a_fitted_row():
    fitted = Crossing(*(np.array([x]) for x in (3.0, 5.0, 9.0, 0.0, 18.5, 14.0, 11.0)))
    assert Curve.of(fitted, 0, START) == Curve(START, 18.5, 11.0, 14.0)


def test_words_come_from_the_caller_and_are_escaped():
    svg = plot_place(READINGS, POLICY, labels={"wet": "mojado <b>"}, name='K1"')
    assert "mojado &lt;b&gt;" in svg
    ET.fromstring(svg)


def test_an_empty_place_is_an_empty_frame_and_the_same_bytes_each_time():
    assert plot_place([], POLICY) == plot_place([], POLICY)
    ET.fromstring(plot_place([], POLICY))


def table(**columns):
    base = {
        "group": np.array([0, 0, 0, 2, 2]),
        "worst_mc": np.array([12.0, 17.0, np.inf, np.nan, 20.5]),
        "days_since_check": np.array([2.0, 9.0, 3.0, np.inf, 1.0]),
        "passes": np.array([True, False, False, False, False]),
        "stalled": np.array([False, True, False, False, False]),
        "days_to_limit": np.array([np.nan, 12.0, np.nan, np.nan, 30.0]),
        "temp_c": np.full(5, 20.0),
    }
    return PlaceTable(**{**base, **columns})


def test_groups_are_counted_and_their_worst_named():
    summary = summarise(table(), 3, POLICY)
    assert summary.places.tolist() == [3, 0, 2]
    assert summary.bands.tolist() == [[0, 1, 1, 1], [0, 0, 0, 0], [1, 0, 0, 1]]
    assert summary.passing.tolist() == [1, 0, 0]
    assert summary.stalled.tolist() == [1, 0, 0]
    assert summary.overdue.tolist() == [1, 0, 1]
    assert summary.over_range.tolist() == [1, 0, 0]
    assert summary.worst_mc[[0, 2]].tolist() == [17.0, 20.5]
    assert np.isnan(summary.worst_mc[1])
    assert summary.last_dry_in_days[[0, 2]].tolist() == [12.0, 30.0]
    assert summary.mould_weeks[0] < summary.mould_weeks[2] < np.inf
    assert np.isinf(summary.mould_weeks[1])


def test_bands_of_many_places_follow_the_policy():
    assert band_codes(np.array([14.9, 15.0, 20.0, 20.1, np.inf, np.nan]), POLICY).tolist() == [1, 2, 2, 3, 3, 0]
