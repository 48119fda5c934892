"""Dry today is not ready: what a place and a wall need before their readings meet the county's limit."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from guide_service.drying.assessment import ReasonCode
from guide_service.drying.terms import Band, Material, Mode, PlaceKind, Point, Qualifier, SelfCheck, Wall
from tests.drying.factories import START, bay, check, reading

TWO_DRY_ROUNDS = check(0, [12, 11, 11]) + check(4, [11, 11, 11])


def reasons(wall):
    return {reason.code for reason in wall.reasons}


def test_two_clearly_dry_rounds_make_a_wall_ready(run):
    outcome = run(TWO_DRY_ROUNDS)
    wall = outcome.walls[0]
    assert outcome.verdicts[0].passes
    assert wall.ready
    assert wall.covers == ("K1",)
    assert wall.lapses_on == START + dt.timedelta(days=4 + 14)
    assert outcome.next_check is None


def test_one_dry_round_reads_dry_but_is_not_ready(run):
    outcome = run(check(0, [11, 11, 11]))
    assert outcome.verdicts[0].band is Band.DRY
    assert not outcome.walls[0].ready
    assert ReasonCode.ONE_ROUND_ONLY in reasons(outcome.walls[0])


def test_rounds_too_close_together_count_once(run):
    wall = run(check(0, [11, 11, 11]) + check(2, [11, 11, 11])).walls[0]
    assert not wall.ready
    assert ReasonCode.ROUNDS_TOO_CLOSE in reasons(wall)


def test_a_borderline_wall_is_not_ready_at_its_second_round(run):
    wall = run(check(0, [14.8, 14, 14]) + check(4, [14.7, 14, 14])).walls[0]
    assert not wall.ready
    assert ReasonCode.NOT_SURE_ENOUGH in reasons(wall)


def test_a_rising_wall_is_not_ready(run):
    wall = run(check(0, [10, 10, 10]) + check(4, [12, 10, 10])).walls[0]
    assert ReasonCode.RISING in reasons(wall)
    assert not wall.ready


def test_readings_grow_too_old(run):
    assert run(TWO_DRY_ROUNDS, day=18).walls[0].ready
    late = run(TWO_DRY_ROUNDS, day=19).walls[0]
    assert not late.ready
    assert ReasonCode.TOO_OLD in reasons(late)


def test_the_same_readings_without_one_wall_size_or_with_open_mould_are_not_ready(run):
    unknown = run(TWO_DRY_ROUNDS, walls=[Wall("kitchen", "Kitchen", None)]).walls[0]
    assert ReasonCode.BAYS_UNKNOWN in reasons(unknown)
    assert ReasonCode.MOULD_OPEN in reasons(run(TWO_DRY_ROUNDS, mould_open=True).walls[0])


@pytest.mark.parametrize(
    "spoilt",
    [
        {"mode": Mode.NOT_ASKED},
        {"mode": Mode.PINLESS},
        {"confirmed": False},
        {"self_check": SelfCheck.FAILED},
        {"material": Material.DRYWALL},
    ],
)
def test_numbers_that_do_not_count_in_full_never_pass(run, spoilt):
    readings = [replace(one, **spoilt) for one in TWO_DRY_ROUNDS]
    assert not run(readings).walls[0].ready
    mixed = [*TWO_DRY_ROUNDS[:3], *readings[3:]]
    assert not run(mixed).walls[0].ready


def test_a_wall_needs_every_followed_place(run):
    readings = TWO_DRY_ROUNDS + check(0, [12, 11, 11], "K2") + check(4, [17, 11, 11], "K2")
    wall = run(readings).walls[0]
    assert not wall.ready
    assert any(reason.args.get("place") == "K2" for reason in wall.reasons)


def test_missing_points_block_ready(run):
    readings = check(0, [12, 11]) + check(4, [11, 11])
    assert ReasonCode.MISSING_POINTS in reasons(run(readings).walls[0])


def test_one_point_skipped_in_the_last_round_may_be_taken_from_the_round_before(run):
    assert run(check(0, [12, 11, 11]) + check(4, [11, 11])).walls[0].ready


def test_remaining_bays_are_named_for_one_sweep(run):
    four_bays = [Wall("kitchen", "Kitchen", 4)]
    wall = run(TWO_DRY_ROUNDS, walls=four_bays).walls[0]
    assert not wall.ready
    assert wall.sweep == ("K2", "K3", "K4")
    assert reasons(wall) == {ReasonCode.SWEEP_NEEDED}


def test_a_swept_wall_is_ready_and_names_all_its_bays(run):
    places = [bay("K1"), bay("K2", followed=False), bay("K3", followed=False)]
    swept = TWO_DRY_ROUNDS + check(4, [11], "K2")
    walls = [Wall("kitchen", "Kitchen", 3)]
    assert run(swept, places=places, walls=walls).walls[0].sweep == ("K3",)
    done = run(swept + check(4, [11.5], "K3"), places=places, walls=walls).walls[0]
    assert done.ready
    assert set(done.covers) == {"K1", "K2", "K3"}


def test_a_swept_bay_that_is_not_dry_blocks_the_wall(run):
    places = [bay("K1"), bay("K2", followed=False)]
    wall = run(TWO_DRY_ROUNDS + check(4, [16], "K2"), places=places).walls[0]
    assert not wall.ready
    assert ReasonCode.NOT_BELOW_LIMIT in reasons(wall)


def test_sweep_labels_skip_the_bays_of_other_walls(run):
    places = [bay("K1"), bay("K2", "kitchen south")]
    walls = [Wall("kitchen", "North", 2), Wall("kitchen south", "South", 1)]
    readings = TWO_DRY_ROUNDS + check(0, [12, 11, 11], "K2") + check(4, [11, 11, 11], "K2")
    north, south = run(readings, places=places, walls=walls).walls
    assert north.sweep == ("K3",)
    assert south.ready


def test_floor_places_need_one_point_and_reference_wood_is_no_part_of_a_wall(run):
    places = [bay("F1", "floor", kind=PlaceKind.SUBFLOOR), bay("R1", "floor", kind=PlaceKind.REFERENCE)]
    readings = [reading(day, Point.WOOD, 11, "F1") for day in (0, 4)] + [reading(4, Point.WOOD, 18, "R1")]
    wall = run(readings, places=places, walls=[Wall("floor", "Floor", 0)]).walls[0]
    assert wall.ready
    assert wall.covers == ("F1",)


def test_a_wet_third_party_reading_after_two_dry_rounds_takes_ready_back(run):
    wall = run(TWO_DRY_ROUNDS + check(6, [19, 11, 11], confirmed=False)).walls[0]
    assert not wall.ready


def test_reading_soon_after_washing_carries_no_ready(run):
    wall = run(TWO_DRY_ROUNDS, washed_on=START + dt.timedelta(days=3)).walls[0]
    assert ReasonCode.WASHED_RECENTLY in reasons(wall)


def test_new_floodwater_after_the_readings_takes_ready_back(run):
    assert not run(TWO_DRY_ROUNDS, day=6, flooded_again_on=START + dt.timedelta(days=5)).walls[0].ready


def test_confirmed_treated_plate_may_not_rise(run):
    places = [bay(treated_plate=True)]
    kept = {"places": places, "treated_confirmed": frozenset({"K1"})}
    assert run(check(0, [17, 11, 11]) + check(4, [17, 11, 11]), **kept).walls[0].ready
    assert not run(check(0, [17, 11, 11]) + check(4, [19, 11, 11]), **kept).walls[0].ready
    assert not run(check(0, [17, 11, 11]) + check(4, [17, 11, 11]), places=places).walls[0].ready


def test_a_number_far_below_the_last_is_a_slip_until_the_next_one_says_the_same(run):
    fell = check(0, [30, 29, 28]) + check(4, [11, 11, 11])
    assert not run(fell + check(8, [25, 24, 24])).walls[0].ready
    assert run(fell + check(8, [11, 11, 11])).walls[0].ready


def test_wood_that_dries_fast_is_believed_in_time(run):
    falls = (36, 16, 13, 11, 10, 10)
    rounds = [one for n, top in enumerate(falls) for one in check(4 * n, [top, top - 1, top - 1])]
    assert run(rounds).walls[0].ready


def test_the_last_round_may_lack_one_point_but_not_two(run):
    wall = run(check(0, [12, 11, 11]) + check(4, [11])).walls[0]
    assert not wall.ready
    assert ReasonCode.MISSING_POINTS in reasons(wall)


def test_relative_readings_that_stand_high_block_the_wall(run):
    assert not run(TWO_DRY_ROUNDS, relative_high=True).walls[0].ready


def test_a_sweep_reading_grows_too_old_like_any_other(run):
    places = [bay("K1"), bay("K2", followed=False)]
    old = check(-12, [11], "K2") + TWO_DRY_ROUNDS
    assert run(old, places=places).walls[0].sweep == ("K2",)


def test_a_sweep_needs_the_plate_and_no_other_point(run):
    places = [bay("K1"), bay("K2", followed=False)]
    stud = [reading(4, Point.MID_STUD, 10, "K2")]
    assert run(TWO_DRY_ROUNDS + stud, places=places).walls[0].sweep == ("K2",)


def test_a_swept_treated_plate_is_judged_by_the_stud_above_it(run):
    places = [bay("K1"), bay("K2", followed=False, treated_plate=True)]
    kept = {"places": places, "treated_confirmed": frozenset({"K2"})}
    assert run(TWO_DRY_ROUNDS + check(4, [17, 11], "K2"), **kept).walls[0].ready
    assert not run(TWO_DRY_ROUNDS + check(4, [17], "K2"), **kept).walls[0].ready


def test_a_swept_bay_over_range_blocks_the_wall(run):
    places = [bay("K1"), bay("K2", followed=False)]
    over = [reading(4, Point.PLATE, 28, "K2", qualifier=Qualifier.ABOVE)]
    assert not run(TWO_DRY_ROUNDS + over, places=places).walls[0].ready


def test_a_meter_that_reads_lower_than_any_air_is_asked_for_more(run):
    """The same borderline place beside wood at 11 and beside wood that reads 5: the second meter reads low."""
    place = check(0, [12.6, 12, 12]) + check(4, [12.5, 12, 12]) + check(8, [12.5, 12, 12])

    def chance(dry):
        beside = [one for day in (0, 4, 8) for one in check(day, [dry, dry, dry], "K2")]
        return run(place + beside).verdicts[0].probability_dry

    assert chance(5.0) < chance(8.0) < chance(11.0)
    assert chance(5.0) < 0.95


def test_any_later_wet_number_of_a_swept_bay_outweighs_its_dry_plate(run):
    places = [bay("K1"), bay("K2", followed=False)]
    later = [reading(5, Point.MID_STUD, 17, "K2")]
    assert run(TWO_DRY_ROUNDS + check(4, [11], "K2"), places=places).walls[0].ready
    assert not run(TWO_DRY_ROUNDS + check(4, [11], "K2") + later, places=places).walls[0].ready
