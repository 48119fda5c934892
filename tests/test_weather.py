"""The air outside: observed where a file tells it, else normal for the month; the household's own word first."""

from __future__ import annotations

import datetime as dt
import json
import os
from pathlib import Path

import pytest

from guide_service.county import read_county
from guide_service.drying.terms import Air
from guide_service.settings import EXAMPLE_COUNTY
from guide_service.weather import Weather, air_of

DAY = dt.date(2026, 5, 20)


def written(folder: Path, rows: object) -> Path:
    path = folder / "weather.json"
    path.write_text(json.dumps(rows), encoding="utf-8")
    return path


@pytest.fixture
def county():
    return read_county(EXAMPLE_COUNTY)


def test_the_observed_air_of_an_area_comes_before_the_countys(county, tmp_path):
    rows = {
        "county": {"temp_c": 11.5, "rh": 82, "observed_on": "2026-05-19"},
        "millrace": {"temp_c": 9, "rh": 95, "observed_on": "2026-05-20"},
    }
    weather = Weather(county, written(tmp_path, rows))
    assert weather.outdoor("millrace", DAY).outdoor_rh == 95
    assert weather.outdoor("fenn_landing", DAY).outdoor_temp_c == 11.5
    assert weather.outdoor(None, DAY).source == "weather"


@pytest.mark.parametrize(
    "rows",
    [
        {"county": {"temp_c": 11.5, "rh": 82, "observed_on": "2026-05-01"}},
        {"county": {"temp_c": "warm", "rh": 82, "observed_on": "2026-05-20"}},
        {"county": {"rh": 82}},
        ["not", "an", "object"],
    ],
)
def test_what_cannot_be_used_is_as_none(county, tmp_path, rows):
    found = Weather(county, written(tmp_path, rows)).outdoor(None, DAY)
    assert (found.source, found.outdoor_temp_c, found.outdoor_rh) == ("normals", 17.5, 71)


def test_a_changed_file_is_read_again(county, tmp_path):
    path = written(tmp_path, {"county": {"temp_c": 11.5, "rh": 82, "observed_on": "2026-05-20"}})
    weather = Weather(county, path)
    assert weather.outdoor(None, DAY).outdoor_temp_c == 11.5
    written(tmp_path, {"county": {"temp_c": 3, "rh": 82, "observed_on": "2026-05-20"}})
    os.utime(path, (1, 1))
    assert weather.outdoor(None, DAY).outdoor_temp_c == 3


def test_what_the_household_texted_this_week_comes_first():
    outdoor = Air(outdoor_temp_c=10.0, outdoor_rh=80.0, source="normals")
    told = {"indoor_temp_c": 21.0, "indoor_rh": 60.0, "on": "2026-05-15"}
    assert air_of(told, outdoor, DAY) == Air(21.0, 60.0, 10.0, 80.0, dt.date(2026, 5, 15), "reported")
    assert air_of(told, outdoor, dt.date(2026, 5, 30)) == outdoor
    assert air_of({"on": "yesterday"}, outdoor, DAY) == outdoor
    assert air_of(None, outdoor, DAY) == outdoor
