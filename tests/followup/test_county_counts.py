"""The worker's counts of the county: what is counted of whom, on which day, and that counting again changes nothing."""

from __future__ import annotations

import datetime as dt
import threading
from collections import Counter

from sqlmodel import select

from guide_service.clock import FixedClock
from guide_service.database import reading, writing
from guide_service.followup import county_counts
from guide_service.followup.worker import Worker
from guide_service.records import CountyCount, ReadingRow
from guide_service.wiring import Service
from tests.console.rows import fill_house, make_escalation, make_household
from tests.people import live_jobs, work

MONDAY = dt.date(2027, 3, 15)


def put(
    service: Service, number: int, area: str | None = "millrace", language: str | None = "en", **values: object
) -> int:
    with writing(service.engine) as session:
        phone = f"+12025550{100 + number}"
        return make_household(session, service, phone, area, language=language, **values)[0].id


def count(service: Service) -> dict[county_counts.Key, int]:
    counted = county_counts.counted_now(service)
    with writing(service.engine) as session:
        county_counts.keep(session, counted)
    return counted.numbers


def stored(service: Service) -> list[CountyCount]:
    with reading(service.engine) as session:
        return list(session.exec(select(CountyCount)))


def of(numbers: dict[county_counts.Key, int], topic: str) -> Counter[str]:
    """All areas and languages together."""
    found: Counter[str] = Counter()
    for (_, _, kind, value), number in numbers.items():
        if kind == topic:
            found[value] += number
    return found


def test_every_household_is_counted_once_under_its_area_language_and_stage(service: Service) -> None:
    put(service, 1, stage="dry", wet=2, caution=1)
    put(service, 2, stage="dry", wet=1, dry=4)
    put(service, 3, "upper", "es", stage="clean")
    put(service, 4, None, None)
    put(service, 5, stage="dry", wet=9, merged_into=1)
    numbers = count(service)
    assert {key: n for key, n in numbers.items() if key[2] == "stage"} == {
        ("millrace", "en", "stage", "dry"): 2,
        ("upper", "es", "stage", "clean"): 1,
        ("", "", "stage", "unknown"): 1,
    }
    assert of(numbers, "place") == {"wet": 3, "caution": 1, "dry": 4}
    assert of(numbers, "phone")["all"] == 4


def test_flags_are_counted_as_the_lists_find_them(service: Service) -> None:
    put(service, 1, next_check_on=MONDAY - dt.timedelta(days=1), stalled=True)
    put(service, 2, next_check_on=MONDAY, unanswered=2, mould_open=True)
    put(service, 3, band="wet", last_check_on=MONDAY)
    put(service, 4, band="caution", dry_on=MONDAY, ready_walls=2)
    assert of(count(service), "flag") == {
        "overdue": 1, "stalled": 1, "unreached": 1, "mould": 1, "measured": 1, "not_dry": 2, "no_date": 1, "ready": 1,
    }  # fmt: skip


def test_a_day_that_is_over_is_no_expectation_any_more(service: Service) -> None:
    for number, (likely, late) in enumerate(((-1, 5), (0, 6), (6, 7), (7, None))):
        by = None if late is None else MONDAY + dt.timedelta(days=late)
        put(service, number, dry_on=MONDAY + dt.timedelta(days=likely), dry_by=by)
    numbers = count(service)
    assert of(numbers, "dry_week") == {"passed": 1, "2027-03-15": 2, "2027-03-22": 1}
    assert of(numbers, "late_week") == {"2027-03-15": 2, "2027-03-22": 1}


def test_open_escalations_are_counted_by_reason_with_the_oldest_and_who_is_at_risk(service: Service) -> None:
    now = service.clock.now()
    with writing(service.engine) as session:
        for number, hours in ((1, 50), (2, 3)):
            home, contact, _ = make_household(session, service, f"+1202555010{number}")
            make_escalation(session, service, home, contact, opened_at=now - dt.timedelta(hours=hours))
            detail = {"risk": number == 1, "told": True}
            make_escalation(session, service, home, contact, reason="mould", detail=detail)
            make_escalation(session, service, home, contact, reason="stalled", state="settled")
    numbers = count(service)
    assert of(numbers, "waiting") == {"person": 2, "mould": 2}
    assert of(numbers, "oldest") == {"person": 50}
    assert of(numbers, "flag")["at_risk"] == 1


def test_readings_of_the_countys_people_and_of_unconfirmed_helpers_are_told_apart(service: Service) -> None:
    with writing(service.engine) as session:
        for number in (1, 2, 3):
            home, contact, _ = make_household(session, service, f"+1202555010{number}")
            fill_house(session, service, home, contact)
        rows = session.exec(select(ReadingRow).where(ReadingRow.household_id == home.id)).all()
        for row in rows:
            row.agent_id, row.confirmed = 7, True
    assert of(count(service), "flag") & Counter(read_by_us=9, unconfirmed=9) == {"read_by_us": 1, "unconfirmed": 2}


def test_counting_again_replaces_the_day_and_leaves_the_day_before(service: Service, clock: FixedClock) -> None:
    put(service, 1, stage="clean", dry_on=MONDAY)
    first = count(service)
    assert count(service) == first
    assert len(stored(service)) == len(first)
    clock.advance(days=1)
    put(service, 2, stage="dry")
    count(service)
    by_day = {
        (row.day, row.topic, row.value): row.number for row in stored(service) if row.topic in ("stage", "dry_week")
    }
    assert by_day == {
        (MONDAY, "stage", "clean"): 1,
        (MONDAY + dt.timedelta(days=1), "stage", "clean"): 1,
        (MONDAY + dt.timedelta(days=1), "stage", "dry"): 1,
        (MONDAY + dt.timedelta(days=1), "dry_week", "passed"): 1,
    }
    clock.advance(days=county_counts.KEPT_DAYS + 1)
    count(service)
    assert {row.day for row in stored(service)} == {clock.now().date()}


def test_the_worker_counts_and_puts_itself_in_line_again(service: Service) -> None:
    put(service, 1)
    Worker(service, "w1", threading.Event()).beat()
    work(service)
    assert [row.topic for row in stored(service) if row.topic == "stage"] == ["stage"]
    (job,) = [each for each in live_jobs(service) if each.kind == county_counts.KIND]
    assert job.run_at == service.clock.now() + county_counts.EVERY
