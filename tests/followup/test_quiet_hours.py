"""Nothing that we start arrives at night; offices have hours; the local calendar decides."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from guide_service.county import Office
from guide_service.county_rules import Hours
from guide_service.followup.quiet_hours import next_allowed, next_office_hour, reminder_time, validity_seconds

EASTERN = ZoneInfo("America/New_York")
HOURS = Hours()
OFFICE = Office(id="o", name="Office", phone="", opens=dt.time(8), closes=dt.time(17))


def at(*when: int, zone: ZoneInfo = EASTERN) -> dt.datetime:
    return dt.datetime(*when, tzinfo=zone).astimezone(dt.UTC)


@pytest.mark.parametrize(
    ("asked", "allowed"),
    [
        (at(2027, 3, 15, 8, 0), at(2027, 3, 15, 8, 0)),
        (at(2027, 3, 15, 7, 59, 59), at(2027, 3, 15, 8, 0)),
        (at(2027, 3, 15, 0, 0), at(2027, 3, 15, 8, 0)),
        (at(2027, 3, 15, 20, 57), at(2027, 3, 15, 20, 57)),
        (at(2027, 3, 15, 20, 58), at(2027, 3, 16, 8, 0)),
        (at(2027, 3, 15, 21, 0), at(2027, 3, 16, 8, 0)),
        (at(2027, 12, 31, 23, 0), at(2028, 1, 1, 8, 0)),
        # the nights in which the clocks change: 8 in the morning is 8 in the morning
        (at(2027, 3, 13, 22, 0), at(2027, 3, 14, 8, 0)),
        (at(2027, 11, 6, 22, 0), at(2027, 11, 7, 8, 0)),
    ],
)
def test_what_falls_into_the_night_waits_for_the_morning(asked: dt.datetime, allowed: dt.datetime) -> None:
    assert next_allowed(asked, EASTERN, HOURS) == allowed


def test_the_same_instant_is_night_in_one_zone_and_day_in_another() -> None:
    instant = at(2027, 3, 15, 21, 30)
    assert next_allowed(instant, EASTERN, HOURS) > instant
    assert next_allowed(instant, ZoneInfo("America/Chicago"), HOURS) == instant


def test_every_minute_of_a_year_is_sent_by_day_or_moved_into_the_day() -> None:
    instant = at(2027, 1, 1)
    for minutes in range(0, 366 * 24 * 60, 37):
        allowed = next_allowed(instant + dt.timedelta(minutes=minutes), EASTERN, HOURS)
        assert dt.time(8) <= allowed.astimezone(EASTERN).time() < dt.time(21)
        assert dt.timedelta() <= allowed - (instant + dt.timedelta(minutes=minutes)) < dt.timedelta(hours=12, minutes=3)
        delivered_by = allowed + dt.timedelta(seconds=validity_seconds(allowed, EASTERN, HOURS))
        assert delivered_by.astimezone(EASTERN).time() <= dt.time(21)


def test_the_carrier_keeps_a_text_until_the_quiet_begins_or_four_hours() -> None:
    assert validity_seconds(at(2027, 3, 15, 20, 50), EASTERN, HOURS) == 600
    assert validity_seconds(at(2027, 3, 15, 9, 0), EASTERN, HOURS) == 4 * 3600


def test_a_reminder_is_due_on_the_day_of_the_households_calendar() -> None:
    assert reminder_time(dt.date(2027, 3, 13), EASTERN, HOURS) == dt.datetime(2027, 3, 13, 14, 0, tzinfo=dt.UTC)
    assert reminder_time(dt.date(2027, 3, 14), EASTERN, HOURS) == dt.datetime(2027, 3, 14, 13, 0, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("asked", "staffed"),
    [
        (at(2027, 3, 15, 12, 0), at(2027, 3, 15, 12, 0)),
        (at(2027, 3, 15, 7, 0), at(2027, 3, 15, 8, 0)),
        (at(2027, 3, 15, 17, 0), at(2027, 3, 16, 8, 0)),
        (at(2027, 3, 19, 17, 0), at(2027, 3, 22, 8, 0)),
        (at(2027, 3, 20, 12, 0), at(2027, 3, 22, 8, 0)),
    ],
)
def test_an_alarm_waits_for_the_hours_of_the_office(asked: dt.datetime, staffed: dt.datetime) -> None:
    assert next_office_hour(asked, EASTERN, OFFICE) == staffed


def test_an_office_without_days_swallows_no_alarm() -> None:
    closed = OFFICE.model_copy(update={"days": ()})
    assert next_office_hour(at(2027, 3, 20, 12, 0), EASTERN, closed) == at(2027, 3, 20, 12, 0)
