"""A place that does not dry, and one that turned wet again, are found; normal drying and over-range are not."""

from __future__ import annotations

from guide_service.drying.assessment import Cause, FindingKind
from guide_service.drying.terms import PlaceKind, Point, Qualifier
from tests.drying.factories import bay, check, reading


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


def steadily(start, per_check, checks, place="K1", gap=5):
    return [
        one
        for k in range(checks)
        for one in check(gap * k, [start - per_check * k, start - 1 - per_check * k, start - 1 - per_check * k], place)
    ]


def found(outcome, kind):
    return [finding for finding in outcome.findings if finding.kind is kind]


def test_a_real_fall_that_comes_too_late_is_too_slow_and_no_stall(run):
    outcome = run(steadily(26, 0.7, 6))
    assert kinds(outcome) == {FindingKind.TOO_SLOW}


def test_one_flat_place_among_drying_ones_is_laid_to_the_place(run):
    readings = flat(19, 5, gap=5) + steadily(26, 2, 5, "K2") + steadily(25, 2, 5, "K3")
    (stall,) = found(run(readings), FindingKind.STALLED)
    assert (stall.places, stall.cause) == (("K1",), Cause.ONE_PLACE)


def test_a_flat_house_has_no_known_cause(run):
    readings = flat(19, 5, gap=5) + [one for k in range(5) for one in check(5 * k, [20, 19, 19], "K2")]
    causes = {finding.cause for finding in found(run(readings), FindingKind.STALLED)}
    assert causes == {Cause.UNKNOWN}


def test_a_flat_treated_plate_is_laid_to_the_treatment(run):
    outcome = run(flat(19, 5, gap=5), places=[bay(treated_plate=True)])
    assert [finding.cause for finding in found(outcome, FindingKind.STALLED)] == [Cause.TREATED_OR_SALT]


def test_weeks_of_dry_readings_without_certainty_end_with_a_person(run):
    readings = [one for k in range(8) for one in check(5 * k, [14.6, 14, 14])]
    outcome = run(readings)
    assert not outcome.walls[0].ready
    assert FindingKind.LIMIT_OUT_OF_REACH in kinds(outcome)
    assert FindingKind.LIMIT_OUT_OF_REACH not in kinds(run(readings[:9]))


def test_places_read_only_in_the_sweep_are_not_followed_for_stalls(run):
    outcome = run(flat(19, 5, gap=5), places=[bay(followed=False)])
    assert not outcome.findings


def test_a_lone_point_needs_more_than_repeatability(run):
    floor = [bay("F1", kind=PlaceKind.SUBFLOOR)]

    def over_time(*values):
        return run([reading(5 * k, Point.WOOD, value, "F1") for k, value in enumerate(values)], places=floor)

    assert not found(over_time(18, 16, 17.5), FindingKind.REWETTED)
    assert found(over_time(18, 16, 21), FindingKind.REWETTED)
