"""The date of the next visit: one for the household, inside the policy's windows, on a day that is possible."""

from __future__ import annotations

import datetime as dt

import pytest

from guide_service.drying.assessment import ReasonCode
from guide_service.drying.terms import Point, Qualifier
from tests.drying.factories import START, check, reading


def days(outcome):
    assert outcome.next_check is not None
    return (outcome.next_check.on - START).days


@pytest.mark.parametrize(("values", "low", "high"), [([25, 20, 20], 5, 7), ([17, 12, 12], 3, 7), ([13, 12, 12], 3, 3)])
def test_the_band_sets_the_window(run, values, low, high):
    assert low <= days(run(check(0, values))) <= high


def test_over_range_waits_the_longest(run):
    assert 5 <= days(run([reading(0, Point.PLATE, 28, qualifier=Qualifier.ABOVE)])) <= 7


def test_all_places_of_a_household_get_one_date(run):
    outcome = run(check(0, [25, 20, 20]) + check(0, [13, 12, 12], "K2"))
    assert 5 <= days(outcome) <= 7


def test_second_round_comes_after_three_days_when_all_is_dry(run):
    outcome = run(check(0, [12, 12, 12]) + check(0, [13, 12, 12], "K2"))
    assert days(outcome) == 3
    assert outcome.next_check is not None
    assert outcome.next_check.reason.code is ReasonCode.SECOND_ROUND


def test_days_the_person_cannot_are_avoided(run):
    blocked = frozenset({START + dt.timedelta(days=3)})
    outcome = run(check(0, [12, 12, 12]), cannot_on=blocked)
    assert days(outcome) == 4
    assert outcome.next_check is not None
    assert outcome.next_check.reason.code is ReasonCode.DAY_NOT_POSSIBLE


def test_the_date_does_not_move_when_somebody_writes_later(run):
    assert days(run(check(0, [25, 20, 20]), day=2)) == days(run(check(0, [25, 20, 20])))


def test_an_overdue_check_is_due_today(run):
    assert days(run(check(0, [25, 20, 20]), day=30)) == 30


def test_no_reading_no_date(run):
    assert run([], day=0).next_check is None
