"""A place that does not dry, and one that turned wet again, are found; normal drying and over-range are not."""

from __future__ import annotations

from guide_service.drying.assessment import Cause, FindingKind
from guide_service.drying.terms import Point, Qualifier
from tests.drying.factories import check, reading


def kinds(outcome):
    return {finding.kind for finding in outcome.findings}


def flat(level, checks, gap=4):
    return [one for k in range(checks) for one in check(gap * k, [level, level - 1, level - 1])]


def test_four_flat_checks_over_twelve_days_are_a_stall(run):
    assert FindingKind.STALLED in kinds(run(flat(18, 4)))


def test_three_checks_or_too_few_days_are_no_stall(run):
    assert FindingKind.STALLED not in kinds(run(flat(18, 3, gap=6)))
    assert FindingKind.STALLED not in kinds(run(flat(18, 4, gap=3)))


def test_normal_drying_is_no_stall(run):
    falling = [one for k, top in enumerate([26, 23, 20.5, 18.5]) for one in check(4 * k, [top, top - 2, top - 3])]
    assert not run(falling).findings


def test_over_range_alone_is_no_stall(run):
    over = [
        reading(4 * k, point, 28, qualifier=Qualifier.ABOVE)
        for k in range(6)
        for point in (Point.PLATE, Point.LOW_STUD, Point.MID_STUD)
    ]
    assert not run(over).findings


def test_a_rise_after_falling_is_new_water(run):
    outcome = run(check(0, [22, 18, 18]) + check(5, [17, 16, 16]) + check(10, [21, 17, 17]))
    assert [(f.kind, f.cause) for f in outcome.findings] == [(FindingKind.REWETTED, Cause.NEW_WATER)]


def test_over_range_after_in_range_is_new_water(run):
    readings = [*check(0, [22, 18, 18]), reading(5, Point.PLATE, 28, qualifier=Qualifier.ABOVE)]
    assert FindingKind.REWETTED in kinds(run(readings))
