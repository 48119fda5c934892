"""Properties of the science: monotone where physics says so, inverses that undo, no number that is not one."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from guide_service.drying import psychrometrics as air
from guide_service.drying.approach import days_to, level_after
from guide_service.drying.assess import assess
from guide_service.drying.evidence import Floor, Level, chance_all_below
from guide_service.drying.forecast import Batch, forecast
from guide_service.drying.meter import temperature_correction
from guide_service.drying.mould import Sensitivity, growth_index, weeks_until_mould_if_closed
from guide_service.drying.policy import Policy
from guide_service.drying.terms import (
    BAY_POINTS,
    Air,
    Circumstances,
    Exposure,
    Material,
    Mode,
    Place,
    PlaceKind,
    Point,
    Qualifier,
    Reading,
    SelfCheck,
    Wall,
)
from guide_service.drying.wood import emc, humidity_over, is_saturated

TEMP = st.floats(-19.0, 59.0)
HUMIDITY = st.floats(0.5, 99.5)
MC = st.floats(3.0, 60.0)


@given(TEMP, HUMIDITY, st.floats(0.01, 0.5))
def test_equilibrium_rises_with_humidity(temp, rh, more):
    assert emc(temp, rh + more) > emc(temp, rh)


@given(TEMP, HUMIDITY)
def test_humidity_over_wood_undoes_equilibrium(temp, rh):
    assert humidity_over(emc(temp, rh), temp) == pytest.approx(rh, abs=1e-8)


@given(TEMP, MC)
def test_wood_above_saturation_has_no_humidity(temp, mc):
    if is_saturated(mc, temp):
        with pytest.raises(ValueError, match="saturated"):
            humidity_over(mc, temp)
    else:
        assert 0.0 <= humidity_over(mc, temp) <= 100.0


@given(st.floats(-39.0, 78.0), st.floats(0.05, 1.0))
def test_saturation_pressure_rises_with_temperature(temp, more):
    assert air.saturation_pressure(temp + more) > air.saturation_pressure(temp)


@given(st.floats(-19.0, 59.0), HUMIDITY)
def test_dew_point_is_never_above_the_air(temp, rh):
    assert air.dew_point(temp, rh) <= temp


@given(st.floats(-60.0, 170.0))
def test_degrees_round_trip(value):
    assert air.celsius(air.fahrenheit(value)) == pytest.approx(value, abs=1e-9)


@given(st.floats(-5.0, 25.0), HUMIDITY, st.floats(0.0, 20.0))
def test_warming_air_never_makes_it_more_humid(temp, rh, by):
    assert air.warmed(temp, rh, temp + by) <= rh + 1e-9


@given(st.floats(allow_nan=True, allow_infinity=True))
def test_air_outside_its_range_is_a_clear_error(value):
    if -40.0 <= value <= 80.0:
        assert math.isfinite(air.saturation_pressure(value))
    else:
        with pytest.raises(ValueError, match="temperature must be"):
            air.saturation_pressure(value)


@given(st.floats(-30.0, 70.0), st.floats(0.0, 20.0))
def test_colder_wood_is_never_corrected_less(temp, colder):
    assert temperature_correction(temp - colder) >= temperature_correction(temp)


@given(st.floats(10.0, 40.0), st.floats(4.0, 14.0), st.floats(1.0, 90.0), st.floats(0.1, 200.0))
def test_an_approach_and_its_time_undo_each_other(start, end, tau, days):
    level = level_after(days, start, end, tau)
    if end + 1e-3 < level < start - 1e-6:
        assert days_to(level, start, end, tau) == pytest.approx(days, rel=1e-5)


@given(st.lists(st.floats(8.0, 20.0), min_size=1, max_size=4), st.floats(0.01, 5.0), st.floats(7.0, 20.0))
def test_a_wetter_point_never_makes_a_place_surer(levels, wetter, floor):
    policy, equilibrium = Policy(), Level(11.0, 1.5)
    before = [Level(mc, 0.5) for mc in levels]
    after = [Level(levels[0] + wetter, 0.5), *before[1:]]
    low = Floor(floor, 3)
    assert chance_all_below(after, 1.0, low, equilibrium, policy) <= chance_all_below(
        before, 1.0, low, equilibrium, policy
    )


@given(st.floats(9.0, 15.0), st.floats(5.0, 16.0), st.floats(0.0, 6.0))
def test_a_lower_floor_or_a_wetter_air_never_makes_a_place_surer(mc, floor, more):
    policy, levels = Policy(), [Level(mc, 0.5)]

    def chance(low, end):
        return chance_all_below(levels, 1.0, Floor(low, 2), Level(end, 1.5), policy)

    assert chance(floor - more, 11.0) <= chance(floor, 11.0) + 1e-9
    assert chance(floor, 11.0 + more) <= chance(floor, 11.0) + 1e-9


@settings(max_examples=60)
@given(
    st.lists(st.floats(5.0, 40.0), min_size=1, max_size=8),
    st.lists(st.sampled_from([0, 0, 0, 1, -1]), min_size=8, max_size=8),
    st.sampled_from(list(Exposure)),
    st.floats(6.0, 22.0),
)
def test_a_forecast_is_always_a_range_in_order(levels, kinds, exposure, equilibrium):
    k = len(levels)
    crossing = forecast(
        Batch(
            days=np.arange(-5.0 * (k - 1), 1.0, 5.0)[None, :k],
            level=np.array([levels]),
            kind=np.array([kinds[:k]], np.int8),
            tau=np.array([24.0]),
            tau_log_sd=np.array([0.9]),
            equilibrium=np.array([equilibrium]),
            u_equilibrium=np.array([1.5]),
            u_shared=np.array([0.8]),
        ),
        15.0,
    )
    assert 0.0 <= crossing.early[0] <= crossing.likely[0] <= crossing.late[0]
    assert np.isfinite([crossing.level[0], crossing.tau[0], crossing.end[0]]).all()


@settings(max_examples=60)
@given(
    st.lists(st.floats(-20.0, 55.0), min_size=1, max_size=60),
    st.floats(0.0, 100.0),
    st.sampled_from(list(Sensitivity)),
    st.floats(0.0, 6.0),
)
def test_the_mould_index_stays_between_nothing_and_covered(temps, rh, kind, start):
    index = growth_index(np.array(temps), rh, 24.0, kind, start)
    assert np.isfinite(index).all()
    assert index.min() >= 0.0
    assert index.max() <= max(6.0, start) + 1e-9


@given(st.floats(5.0, 35.0), st.floats(8.0, 40.0), st.floats(0.05, 5.0))
def test_wetter_wood_grows_mould_no_later(temp, mc, wetter):
    assert weeks_until_mould_if_closed(mc + wetter, temp) <= weeks_until_mould_if_closed(mc, temp)


READINGS = st.builds(
    Reading,
    id=st.uuids().map(str),
    place=st.sampled_from(["K1", "K2", "F1", "elsewhere"]),
    point=st.sampled_from(list(Point)),
    value=st.one_of(st.none(), st.floats(0.0, 100.0)),
    taken_on=st.dates(dt.date(2031, 4, 1), dt.date(2031, 6, 1)),
    check=st.sampled_from(["a", "b", "c", "d", "e"]),
    qualifier=st.sampled_from(list(Qualifier)),
    material=st.sampled_from(list(Material)),
    mode=st.sampled_from(list(Mode)),
    colour=st.sampled_from([None, "green", "yellow", "red"]),
    temp_c=st.one_of(st.none(), st.floats(-30.0, 60.0)),
    self_check=st.sampled_from(list(SelfCheck)),
    resolution=st.sampled_from([0.1, 0.5, 1.0]),
    confirmed=st.booleans(),
)
PLACES = [Place("K1", "kitchen"), Place("K2", "kitchen", treated_plate=True, followed=False)]
FLOOR = Place("F1", "floor", kind=PlaceKind.SUBFLOOR)
WALLS = [Wall("kitchen", "Kitchen", 3), Wall("floor", "Floor", 0)]
AIRS = st.builds(
    Air,
    indoor_temp_c=st.one_of(st.none(), st.floats(-60.0, 90.0)),
    indoor_rh=st.one_of(st.none(), st.floats(0.0, 100.0)),
    outdoor_temp_c=st.one_of(st.none(), st.floats(-60.0, 90.0)),
    outdoor_rh=st.one_of(st.none(), st.floats(0.0, 100.0)),
)
CIRCUMSTANCES = st.builds(
    Circumstances,
    mould_open=st.booleans(),
    flooded_again_on=st.one_of(st.none(), st.dates(dt.date(2031, 4, 1), dt.date(2031, 6, 1))),
    power_on=st.sampled_from([None, True, False]),
    washed_on=st.one_of(st.none(), st.dates(dt.date(2031, 4, 1), dt.date(2031, 6, 1))),
    cannot_on=st.frozensets(st.dates(dt.date(2031, 6, 1), dt.date(2031, 6, 20)), max_size=4),
    treated_confirmed=st.sampled_from([frozenset(), frozenset({"K2"})]),
)
TODAY = dt.date(2031, 6, 1)


def outcome(readings, air_now=None, circumstances=None):
    return assess(
        [*PLACES, FLOOR],
        WALLS,
        readings,
        policy=Policy(),
        air=air_now or Air(),
        circumstances=circumstances or Circumstances(),
        today=TODAY,
    )


@settings(max_examples=300)
@given(st.lists(READINGS, max_size=24), AIRS, CIRCUMSTANCES)
def test_any_readings_give_one_assessment_and_never_an_exception(readings, air_now, circumstances):
    first = outcome(readings, air_now, circumstances)
    assert first == outcome(readings, air_now, circumstances)
    assert {verdict.place for verdict in first.verdicts} == {"K1", "K2", "F1"}
    if first.next_check is not None:
        assert first.next_check.on >= TODAY
        assert first.next_check.on not in circumstances.cannot_on
    for wall in first.walls:
        assert not (wall.ready and (circumstances.mould_open or wall.sweep))
        if wall.ready:
            assert wall.lapses_on is not None
            assert wall.lapses_on >= TODAY


DRY_CHECKS = [
    Reading(f"{place}{day}{point}", place, point, 10.5, TODAY - dt.timedelta(days=day), f"v{day}")
    for place in ("K1",)
    for day in (8, 4, 0)
    for point in BAY_POINTS
]


def kitchen_passes(readings):
    return {verdict.place: verdict.passes for verdict in outcome(readings).verdicts}["K1"]


def test_the_ground_of_the_next_property_is_a_place_that_passes():
    assert kitchen_passes(DRY_CHECKS)


@settings(max_examples=200)
@given(st.integers(0, len(DRY_CHECKS) - 1), st.floats(0.0, 40.0))
def test_no_single_reading_made_wetter_ever_helps_a_place_to_pass(which, wetter):
    """From a place that does not pass: raising any one number cannot make it pass."""
    borderline = [
        Reading(f"b{day}{point}", "K1", point, 14.4, TODAY - dt.timedelta(days=day), f"v{day}")
        for day in (8, 4, 0)
        for point in BAY_POINTS
    ]
    assert not kitchen_passes(borderline)
    one = borderline[which]
    raised = Reading(one.id, "K1", one.point, min(14.4 + wetter, 99.0), one.taken_on, one.check)
    assert not kitchen_passes([raised if reading is one else reading for reading in borderline])


@settings(max_examples=200)
@given(READINGS.filter(lambda reading: reading.place == "K1"))
def test_what_cannot_pass_a_place_never_makes_one_pass(extra):
    """Relative, pinless, colour, unasked, failed or unconfirmed readings added to one dry round are no second one."""
    weak = (
        extra.material in (Material.DRYWALL, Material.PLASTER, Material.CONCRETE, Material.MASONRY)
        or extra.mode is not Mode.WOOD_PINS
        or not extra.confirmed
        or extra.self_check is SelfCheck.FAILED
    )
    one_round = DRY_CHECKS[-3:]
    if weak:
        assert not kitchen_passes([*one_round, extra])


@given(st.floats(0.0, 100.0))
def test_drywall_alone_never_reads_dry(value):
    drywall = Reading("d", "K1", Point.SURFACE, value, TODAY, "v", material=Material.DRYWALL)
    bands = {verdict.place: verdict.band.value for verdict in outcome([drywall]).verdicts}
    assert bands["K1"] != "dry"
