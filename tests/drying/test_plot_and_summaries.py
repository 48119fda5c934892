"""The picture of a place, and counts of many places."""

from __future__ import annotations

import datetime as dt
import itertools
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from guide_service.drying.assess import assess, expected_course
from guide_service.drying.assessment import ForecastKind
from guide_service.drying.plot import DARK, LIGHT, WIDTH, plot_place
from guide_service.drying.policy import Policy
from guide_service.drying.summaries import PlaceTable, band_codes, summarise
from guide_service.drying.terms import Air, Circumstances, Point, Qualifier, Wall
from tests.drying.factories import START, bay, check, reading

POLICY = Policy()
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


def test_no_word_runs_into_another_or_out_of_the_picture():
    """At 0.6 of its size a letter is as wide as in the widest of usual types (DejaVu Sans: 0.59 on average)."""
    long = {
        "plate": "tabla de abajo",
        "low_stud": "montante bajo",
        "mid_stud": "montante medio",
        "caution": "precaución",
    }
    svg = plot_place(dried((0, 30, 60, 95)), POLICY, labels=long)
    every = plot_place(READINGS, POLICY, labels=long)
    assert high(every) > high(svg), "five kinds of point stand in two rows"
    for picture in (svg, every):
        boxes = [box_of(node) for node in elements(picture, "text")]
        for left, right, base in boxes:
            assert left >= 0
            assert right <= WIDTH
            assert base <= high(picture)
            assert not [b for b in boxes if b[2] == base and b != (left, right, base) and left <= b[0] < right]


def high(svg):
    return float(ET.fromstring(svg).get("viewBox").split()[3])


def box_of(text):
    """[left, right, base line]"""
    x, wide = float(text.get("x")), len(text.text) * 12 * 0.59
    left = x - wide * {"middle": 0.5, "end": 1.0}.get(text.get("text-anchor"), 0.0)
    return left, left + wide, float(text.get("y"))


def test_bands_are_words_and_lines_not_colours():
    svg = plot_place(READINGS, POLICY)
    texts = {node.text for node in elements(svg, "text")}
    assert {"wet", "caution", "dry"} <= texts
    dashes = {node.get("stroke-dasharray") for node in elements(svg, "line")} - {None}
    assert len(dashes) == 2
    colours = {node.get(key) for node in ET.fromstring(svg).iter() for key in ("fill", "stroke")} - {None, "none"}
    assert all(re.fullmatch(r"#(.{1,2})\1\1", colour) for colour in colours), "greys only"


def dried(days=(0, 5, 10, 15), start=24.0):
    """A bay that dries evenly, as a household reads it."""
    return [one for n, day in enumerate(days) for one in check(day, [start - 2 * n - less for less in (0, 2, 4)])]


def assessed(readings, today):
    args = {"policy": POLICY, "air": Air(), "circumstances": Circumstances()}
    places, walls = (bay(),), (Wall("kitchen", "kitchen", 1),)
    (verdict,) = assess(places, walls, readings, today=START + dt.timedelta(days=today), **args).verdicts
    return verdict, expected_course(verdict, places, readings, **args)


def test_the_course_crosses_the_limit_on_the_days_that_are_told():
    verdict, course = assessed(dried(), 15)
    assert verdict.forecast.kind is ForecastKind.DATE
    newest = START + dt.timedelta(days=15)
    days = [row[0] for row in course.ahead]
    for k, day in ((1, verdict.forecast.earliest), (2, verdict.forecast.likely), (3, verdict.forecast.latest)):
        crossed = next(at for at, row in zip(days, course.ahead, strict=True) if row[k] <= POLICY.dry_below_mc)
        assert crossed == pytest.approx((day - newest).days, abs=days[1] + 1.0)
    assert all(low <= likely <= high for _, low, likely, high in course.ahead)
    assert all(later[2] < sooner[2] for sooner, later in itertools.pairwise(course.ahead))
    assert course.fitted[0][0] == -15.0
    assert course.fitted[-1][1] == pytest.approx(course.ahead[0][2], abs=0.3)


def test_a_place_without_a_fit_has_no_course():
    assert assessed(check(0, [22, 20, 18]), 0)[1] is None
    assert assessed(check(0, [12, 11, 11]), 0)[1] is None


def test_the_course_and_its_range_are_drawn_where_known():
    verdict, course = assessed(dried(), 15)
    svg = plot_place(dried(), POLICY, verdict.forecast, course, told="In words.")
    assert len(elements(svg, "polygon")) == 1
    assert len(elements(svg, "polyline")) == 4
    assert "In words." in ET.fromstring(svg).get("aria-label")
    plain = plot_place(dried(), POLICY, verdict.forecast)
    assert not elements(plain, "polygon")
    assert not elements(plain, "polyline")


def test_in_the_dark_the_ink_is_light_and_stands_out():
    verdict, course = assessed(dried(), 15)
    svg = plot_place(dried(), POLICY, verdict.forecast, course, theme=DARK)
    assert "#000" not in svg
    assert "#fff" not in svg
    for theme in (LIGHT, DARK):
        for ground in (theme.paper, theme.between, theme.range):
            assert contrast(theme.ink, ground) >= 4.5, (theme, ground)
        assert contrast(theme.stud, theme.paper) >= 3.0


def contrast(one, other):
    """Of two colours, by the formula of WCAG 2.2 (relative luminance)."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour):
    digits = colour[1:] if len(colour) == 7 else "".join(c * 2 for c in colour[1:])
    parts = [int(digits[k : k + 2], 16) / 255 for k in (0, 2, 4)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


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
