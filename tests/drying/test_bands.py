"""The band of a place today: the worst wood point decides, the rest can only worsen."""

from __future__ import annotations

import pytest

from guide_service.drying.assessment import ReasonCode
from guide_service.drying.terms import Band, Material, Mode, Point, Qualifier, SelfCheck
from tests.drying.factories import bay, check, reading


def codes(verdict):
    return {reason.code for reason in verdict.reasons}


@pytest.mark.parametrize(
    ("values", "band"),
    [
        ([14, 12, 11], Band.DRY),
        ([14.9, 12, 11], Band.DRY),
        ([15, 12, 11], Band.CAUTION),
        ([20, 12, 11], Band.CAUTION),
        ([20.1, 12, 11], Band.WET),
        ([12, 21, 11], Band.WET),
        ([12, 11, 16], Band.CAUTION),
    ],
)
def test_worst_point_decides(run, values, band):
    verdict = run(check(0, values)).verdicts[0]
    assert verdict.band is band
    assert verdict.worst is not None
    assert verdict.worst.value == max(values)


def test_only_the_latest_check_speaks(run):
    assert run(check(0, [25, 20, 18]) + check(7, [14, 12, 11])).verdicts[0].band is Band.DRY


def test_points_not_read_are_named(run):
    verdict = run(check(0, [12, 12])).verdicts[0]
    assert verdict.missing_points == (Point.MID_STUD,)
    assert ReasonCode.MISSING_POINTS in codes(verdict)


def test_no_reading_is_no_band(run):
    verdict = run([], day=0, places=[bay()]).verdicts[0]
    assert verdict.band is Band.UNREAD
    assert ReasonCode.NO_READING in codes(verdict)


def test_over_range_is_wet_whatever_the_number(run):
    over = reading(0, Point.PLATE, 19, qualifier=Qualifier.ABOVE)
    verdict = run([over, *check(0, [12, 12, 12])[1:]]).verdicts[0]
    assert verdict.band is Band.WET
    assert ReasonCode.OVER_RANGE in codes(verdict)


@pytest.mark.parametrize("others", [[], [11, 10], [17, 16], [26, 22]])
def test_over_range_without_a_number_is_wet_whatever_the_others_read(run, others):
    over = reading(0, Point.PLATE, None, qualifier=Qualifier.ABOVE)
    verdict = run(
        [over, *(reading(0, p, v) for p, v in zip((Point.LOW_STUD, Point.MID_STUD), others, strict=False))]
    ).verdicts[0]
    assert verdict.band is Band.WET
    assert ReasonCode.OVER_RANGE in codes(verdict)
    assert ReasonCode.NOT_WOOD_SETTING not in codes(verdict)


def test_over_range_without_a_number_on_wall_board_only_says_not_dry(run):
    over = reading(0, Point.SURFACE, None, qualifier=Qualifier.ABOVE, material=Material.DRYWALL)
    assert run([*check(0, [12, 12, 12]), over]).verdicts[0].band is Band.CAUTION


@pytest.mark.parametrize(("value", "band"), [(14, Band.DRY), (17, Band.CAUTION), (40, Band.CAUTION), (14.9, Band.DRY)])
def test_drywall_can_worsen_dry_but_says_nothing_alone(run, value, band):
    drywall = reading(0, Point.SURFACE, value, material=Material.DRYWALL)
    assert run([*check(0, [12, 12, 12]), drywall]).verdicts[0].band is band
    alone = run([drywall]).verdicts[0]
    assert alone.band in (Band.UNREAD, Band.CAUTION)
    assert alone.band is not Band.DRY


def test_pinless_dry_is_no_reading_and_pinless_wet_is_wet(run):
    def pinless(value):
        return run(check(0, [value], mode=Mode.PINLESS)).verdicts[0]

    assert pinless(9).band is Band.UNREAD
    assert pinless(17).band is Band.CAUTION
    assert pinless(24).band is Band.WET


@pytest.mark.parametrize(("colour", "band"), [("red", Band.WET), ("yellow", Band.CAUTION), ("green", Band.DRY)])
def test_a_colour_worsens_never_betters(run, colour, band):
    light = reading(0, Point.LOW_STUD, None, mode=Mode.COLOUR, colour=colour)
    assert run([*check(0, [12, 12, 12]), light]).verdicts[0].band is band
    assert run([light]).verdicts[0].band is (Band.UNREAD if colour == "green" else band)


def test_below_range_counts_only_after_self_check_and_a_second_push(run):
    def below(day, check_id, passed=SelfCheck.PASSED):
        return reading(
            day, Point.PLATE, 6, qualifier=Qualifier.BELOW, self_check=passed, check=check_id, id=f"{day}{check_id}"
        )

    once = run([below(0, "a")]).verdicts[0]
    assert once.band is Band.UNREAD
    assert ReasonCode.BELOW_RANGE_UNPROVEN in codes(once)
    assert run([below(0, "a"), below(3, "b")]).verdicts[0].band is Band.DRY
    unchecked = [below(0, "a", SelfCheck.NOT_DONE), below(3, "b", SelfCheck.NOT_DONE)]
    assert run(unchecked).verdicts[0].band is Band.UNREAD


def test_a_meter_that_failed_its_check_never_says_dry(run):
    verdict = run(check(0, [12, 12, 12], self_check=SelfCheck.FAILED)).verdicts[0]
    assert verdict.band is Band.UNREAD
    assert ReasonCode.METER_FAILED_CHECK in codes(verdict)
    assert run(check(0, [25, 12, 12], self_check=SelfCheck.FAILED)).verdicts[0].band is Band.WET


def test_a_third_partys_dry_reading_does_not_replace_the_households_wet_one(run):
    readings = check(0, [24, 18, 17]) + check(5, [12, 12, 12], confirmed=False)
    assert run(readings).verdicts[0].band is Band.WET


def test_a_third_partys_wet_reading_worsens(run):
    readings = check(0, [12, 12, 12]) + check(5, [22, 12, 12], confirmed=False)
    verdict = run(readings).verdicts[0]
    assert verdict.band is Band.WET
    assert ReasonCode.UNCONFIRMED in codes(verdict)


def test_treated_plate_is_flagged_and_not_corrected(run):
    verdict = run(check(0, [18, 12, 12]), places=[bay(treated_plate=True)]).verdicts[0]
    assert verdict.band is Band.CAUTION
    assert verdict.worst is not None
    assert verdict.worst.corrected == 18
    assert ReasonCode.TREATED_READS_HIGH in codes(verdict)


def test_agent_confirmed_treated_plate_leaves_the_stud_above_to_decide(run):
    verdict = run(
        check(0, [18, 12, 11]), places=[bay(treated_plate=True)], treated_confirmed=frozenset({"K1"})
    ).verdicts[0]
    assert verdict.band is Band.DRY
    assert verdict.missing_points == ()
    assert verdict.worst is not None
    assert verdict.worst.point is Point.LOW_STUD


def test_cold_wood_reads_low_and_is_corrected(run):
    cold = run(check(0, [14.5, 12, 12], temp_c=5.0)).verdicts[0]
    assert cold.band is Band.CAUTION
    assert cold.worst is not None
    assert cold.worst.corrected == pytest.approx(14.5 + 0.12 * 15)


def test_new_floodwater_voids_what_was_read_before(run):
    verdict = run(check(0, [12, 12, 12]), day=5, flooded_again_on=check(2, [1])[0].taken_on).verdicts[0]
    assert verdict.band is Band.UNREAD
    assert ReasonCode.FLOODED_AGAIN in codes(verdict)


@pytest.mark.parametrize("value", [-1.0, 101.0, float("nan"), float("inf")])
def test_a_number_that_is_no_moisture_content_is_refused(run, value):
    with pytest.raises(ValueError, match="moisture content"):
        run(check(0, [value]))
