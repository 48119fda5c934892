"""Windows open, closed or heat: by the water in the air and where it leads the wood, never by humidity alone."""

from __future__ import annotations

import pytest

from guide_service.drying.air_advice import Ventilation, advise, equilibrium_of, indoor_equilibrium
from guide_service.drying.assessment import Cause, FindingKind, ForecastKind
from guide_service.drying.policy import Policy
from guide_service.drying.terms import Air, Circumstances
from tests.drying.factories import check

POLICY = Policy()


def air(inside_c=None, inside_rh=None, outside_c=None, outside_rh=None, **more):
    return Air(inside_c, inside_rh, outside_c, outside_rh, **more)


@pytest.mark.parametrize(
    ("inside", "outside", "advice"),
    [
        ((20.0, 70.0), (10.0, 90.0), Ventilation.OPEN),  # 90 % outside, and yet it dries once warmed
        ((24.0, 70.0), (15.0, 95.0), Ventilation.OPEN),
        ((24.0, 60.0), (22.0, 95.0), Ventilation.CLOSE_AND_DEHUMIDIFY),
        ((24.0, 60.0), (27.0, 75.0), Ventilation.CLOSE_AND_DEHUMIDIFY),
        ((8.0, 80.0), (8.0, 85.0), Ventilation.HEAT),
        ((22.0, 50.0), (22.0, 52.0), Ventilation.EITHER),
        ((22.0, 85.0), (22.0, 85.0), Ventilation.CLOSE_AND_DEHUMIDIFY),
    ],
)
def test_what_to_do_about_the_air(inside, outside, advice):
    assert advise(air(*inside, *outside), POLICY).ventilation is advice


def test_without_the_outdoor_air_only_a_humid_room_can_be_told():
    assert advise(Air(), POLICY).ventilation is Ventilation.UNKNOWN
    assert advise(air(20.0, 50.0), POLICY).ventilation is Ventilation.UNKNOWN
    humid = advise(air(20.0, 85.0), POLICY)
    assert humid.ventilation is Ventilation.CLOSE_AND_DEHUMIDIFY
    assert humid.cannot_dry


def test_when_neither_air_can_dry_it_is_said():
    assert advise(air(25.0, 88.0, 26.0, 90.0), POLICY).cannot_dry
    assert not advise(air(20.0, 70.0, 10.0, 60.0), POLICY).cannot_dry


def test_equilibrium_is_never_taken_drier_than_one_reading_of_the_air_can_say():
    usual = equilibrium_of(Air(), Circumstances(), POLICY)
    dry = equilibrium_of(air(20.0, 15.0), Circumstances(), POLICY)
    humid = equilibrium_of(air(20.0, 85.0), Circumstances(), POLICY)
    assert usual.mc == POLICY.air_emc_mc
    assert 7.0 < dry.mc < usual.mc
    assert humid.mc == pytest.approx(indoor_equilibrium(air(20.0, 85.0))[0])


def test_outdoor_air_is_warmed_where_the_power_is_on():
    cold_damp = air(None, None, 4.0, 95.0)
    heated, _ = indoor_equilibrium(cold_damp, True)
    unheated, _ = indoor_equilibrium(cold_damp, False)
    assert heated < 8.0
    assert unheated > 20.0


def test_humid_air_is_found_at_the_first_check_and_names_the_places(run):
    outcome = run(check(0, [22, 18, 17]), air=air(24.0, 85.0))
    assert [(f.kind, f.places, f.cause) for f in outcome.findings] == [
        (FindingKind.AIR_TOO_HUMID, ("K1",), Cause.HUMID_AIR)
    ]


def test_air_that_cannot_dry_gets_no_date(run):
    readings = check(0, [24, 20, 20]) + check(5, [21, 19, 19]) + check(10, [19, 18, 18])
    assert run(readings, air=air(24.0, 90.0)).verdicts[0].forecast.kind is ForecastKind.AIR_CANNOT_DRY
    assert run(readings, air=air(22.0, 50.0)).verdicts[0].forecast.kind is ForecastKind.DATE


def test_a_stall_in_humid_air_is_laid_to_the_air(run):
    flat = [one for k in range(5) for one in check(5 * k, [18, 17, 17])]
    causes = {f.kind: f.cause for f in run(flat, air=air(24.0, 84.0)).findings}
    assert causes[FindingKind.STALLED] is Cause.HUMID_AIR


def test_unheated_wood_in_a_cold_month_is_taken_as_cold(run):
    warm = run(check(0, [14.5, 12, 12])).verdicts[0]
    cold = run(check(0, [14.5, 12, 12]), air=air(None, None, 2.0, 80.0), power_on=False).verdicts[0]
    assert warm.band.value == "dry"
    assert cold.band.value == "caution"


def test_what_is_normal_for_the_month_accuses_nobodys_air(run):
    humid = air(None, None, 26.0, 90.0, source="normals")
    found = {finding.kind for finding in run(check(0, [24, 22, 20]), air=humid).findings}
    assert FindingKind.AIR_TOO_HUMID not in found
