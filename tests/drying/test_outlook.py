"""What is said of the days ahead: a range of dates, dry now, too wet, cannot tell, or this air cannot."""

from __future__ import annotations

import datetime as dt

import numpy as np

from guide_service.drying.assessment import ForecastKind
from guide_service.drying.forecast import CHUNK, Batch, forecast
from guide_service.drying.outlook import crossings, row_of
from guide_service.drying.terms import Exposure, Point, Qualifier
from tests.drying.factories import START, bay, check, reading

FALLING = check(0, [26, 22, 21]) + check(5, [22, 19, 18]) + check(10, [19, 17, 16])


def told(outcome):
    return outcome.verdicts[0].forecast


def test_three_falling_checks_give_a_range_of_dates(run):
    future = told(run(FALLING))
    assert future.kind is ForecastKind.DATE
    assert START + dt.timedelta(days=10) <= future.earliest <= future.likely <= future.latest
    assert (future.latest - START).days < 70


def test_two_checks_cannot_tell(run):
    assert told(run(FALLING[:6])).kind is ForecastKind.CANNOT_TELL


def test_over_range_is_too_wet_to_tell(run):
    over = [reading(15, Point.PLATE, 28, qualifier=Qualifier.ABOVE)]
    assert told(run(FALLING + over)).kind is ForecastKind.TOO_WET


def test_a_dry_place_is_dry_now_and_an_unread_one_has_no_forecast(run):
    assert told(run(check(0, [13, 12, 12]))).kind is ForecastKind.DRY_NOW
    assert told(run([], day=0, places=[bay()])) is None


def test_a_flat_place_gets_no_date(run):
    flat = [one for k in range(6) for one in check(6 * k, [19, 18.5, 18.5])]
    assert told(run(flat)).kind is ForecastKind.CANNOT_TELL


def test_one_open_face_takes_longer_than_two(run):
    two = told(run(FALLING[:6] + FALLING[6:], places=[bay(exposure=Exposure.TWO_FACES)]))
    one = told(run(FALLING[:6] + FALLING[6:], places=[bay(exposure=Exposure.ONE_FACE)]))
    assert one.likely >= two.likely


def test_new_water_starts_the_story_anew(run):
    again = FALLING + check(15, [25, 24, 23])
    assert told(run(again)).kind is ForecastKind.CANNOT_TELL


def batch(n):
    levels = np.tile([[26.0, 22.0, 19.0, 17.0]], (n, 1)) + np.linspace(0.0, 2.0, n)[:, None]
    return Batch(
        days=np.tile([[-15.0, -10.0, -5.0, 0.0]], (n, 1)),
        level=levels,
        kind=np.zeros((n, 4), np.int8),
        tau=np.full(n, 14.0),
        tau_log_sd=np.full(n, 0.6),
        equilibrium=np.full(n, 11.0),
        u_equilibrium=np.full(n, 1.1),
        u_shared=np.full(n, 0.8),
    )


def test_many_places_at_once_get_the_same_answer_as_alone():
    n = CHUNK + 7
    many = forecast(batch(n), 15.0)
    alone = forecast(batch(n), 15.0)
    assert many.likely.shape == (n,)
    assert (many.likely == alone.likely).all()
    assert (np.diff(many.likely) >= -1e-6).all()


def test_wetter_levels_are_never_dry_sooner_with_readings_over_range_in_the_past():
    plain = batch(2)
    kind = plain.kind.copy()
    kind[1, :2] = 1
    over = Batch(
        plain.days,
        plain.level,
        kind,
        plain.tau,
        plain.tau_log_sd,
        plain.equilibrium,
        plain.u_equilibrium,
        plain.u_shared,
    )
    crossing = forecast(over, 15.0)
    assert np.isfinite(crossing.likely).all()
    assert crossing.tau[1] <= crossing.tau[0] * 1.2


def test_the_same_rows_are_not_fitted_twice(run):
    run(FALLING)
    before = crossings.cache_info().hits
    run(FALLING)
    assert crossings.cache_info().hits == before + 1


def test_under_range_checks_enter_as_such(run):
    from guide_service.drying.history import history_of
    from guide_service.drying.policy import Policy
    from guide_service.drying.terms import SelfCheck

    readings = [
        reading(day, point, 6, qualifier=Qualifier.BELOW, self_check=SelfCheck.PASSED, id=f"{day}{point}")
        for day in (0, 5)
        for point in (Point.PLATE, Point.LOW_STUD)
    ]
    row = row_of(history_of(bay(), readings, Policy()))
    assert [kind for _, _, kind in row.checks] == [-1, -1]
