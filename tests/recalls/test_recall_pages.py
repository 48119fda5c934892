"""A recall as a coordinator makes it: chosen with a reason, seen beforehand, confirmed as seen, shown afterwards."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from guide_service.console.roles import Role
from guide_service.records import Audit, MeterRecall, ReadingRow
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.people import rows, work
from tests.recalls.conftest import METER, House

Seat = Callable[..., Desk]
FORM = {
    "meter": METER,
    "first_day": "2027-03-15",
    "last_day": "2027-03-19",
    "reason": "reads 3 points low on a block",
}


@pytest.fixture
def ready(house: Callable[..., House]) -> House:
    return house().set_up().until_ready()


@pytest.fixture
def seat(desk: Seat) -> Desk:
    return desk("vega", None, coordinator=True)


def digest(page: str) -> str:
    found = re.search(r'name="seen" value="([0-9a-f]+)"', page)
    assert found, page
    return found[1]


def test_nothing_changes_before_it_is_confirmed_and_all_of_it_is_seen(
    service: Service, ready: House, seat: Desk
) -> None:
    page = seat.do("/console/records/new-recall/preview", 200, **FORM)
    figures = dict(re.findall(r"<dt>([^<]+)</dt><dd class=\"figure[^\"]*\">(\d+)</dd>", page))
    assert figures["Households"] == "1"
    assert (figures["Checks"], figures["Readings"], figures["Places"]) == ("2", "12", "2")
    assert figures["Told that a wall meets the limit"] == "1"
    assert int(figures['Verdicts "reads dry"']) > 0
    assert "kitchen" in page
    assert "12 Weir St" in page
    assert "county&#39;s, number A3" in page or "number A3" in page
    assert rows(service, MeterRecall) == []
    assert {r.recall_id for r in rows(service, ReadingRow)} == {None}

    where = seat.do("/console/records/recalls", seen=digest(page), **FORM)
    assert where.endswith("?done=recalled")
    assert {r.recall_id is None for r in rows(service, ReadingRow)} == {False}, "at once"
    assert "0" in seat.see(where)
    service.clock.advance(seconds=10)
    work(service)
    page = seat.see(where)
    assert "kitchen" in page.lower()
    assert "1 phone" in page
    made = next(row for row in rows(service, Audit) if row.action == "recall_meter")
    assert made.detail["households"] == "1"
    assert "read 3" not in str(made.detail)


def test_what_came_in_since_it_was_seen_is_shown_before_anything_is_recalled(
    service: Service, ready: House, seat: Desk
) -> None:
    seen = digest(seat.do("/console/records/new-recall/preview", 200, **FORM, still_wrong="1"))
    service.clock.advance(days=1)
    ready.measure()
    page = seat.do("/console/records/recalls", 409, seen=seen, **FORM, still_wrong="1")
    assert "Something has come in since you looked" in page
    assert rows(service, MeterRecall) == []
    seat.do("/console/records/recalls", seen=digest(page), **FORM, still_wrong="1")
    assert len(rows(service, MeterRecall)) == 1


@pytest.mark.parametrize(
    "wrong",
    [
        {"meter": ""},
        {"reason": ""},
        {"first_day": "2027-03-20"},
        {"last_day": "2027-04-19"},
        {"first_day": "soon"},
        {"first_day": "2020-01-01"},
    ],
)
def test_a_recall_needs_a_meter_days_and_a_reason(service: Service, seat: Desk, wrong: dict[str, str]) -> None:
    page = seat.do("/console/records/new-recall/preview", 422, **(FORM | wrong))
    assert 'role="alert"' in page
    seat.do("/console/records/recalls", 422, **(FORM | wrong))
    assert rows(service, MeterRecall) == []


def test_nobody_concerned_is_no_recall(service: Service, seat: Desk) -> None:
    nobody = FORM | {"last_day": "2027-03-15"}
    page = seat.do("/console/records/new-recall/preview", 200, **nobody)
    assert "Nothing was measured with this meter" in page
    assert 'action="/console/records/recalls"' not in page
    seat.do("/console/records/recalls", 409, seen="0" * 24, **nobody)


def test_the_household_page_and_the_log_say_why(service: Service, ready: House, seat: Desk) -> None:
    page = seat.do("/console/records/new-recall/preview", 200, **FORM)
    seat.do("/console/records/recalls", seen=digest(page), **FORM)
    service.clock.advance(seconds=10)
    work(service)
    home = rows(service, ReadingRow)[0].household_id
    shown = seat.see(f"/console/households/{home}")
    assert "The meter of some checks was recalled: reads 3 points low on a block" in shown
    assert '<s title="meter recalled">11</s>' in shown
    assert "meter recalled: can only worsen" in shown
    assert "Called ready by a bad meter" in shown
    log = seat.see(f"/console/households/{home}/log")
    assert "The meter of this check was recalled: reads 3 points low on a block" in log
    assert "recalled: can only worsen" in log
    assert "the meter was found to read wrong and was recalled" in log
    assert seat.client.get(f"/console/households/{home}/log.pdf").content.startswith(b"%PDF")
    assert "Called ready by a bad meter" in seat.see("/console")


def test_a_households_own_meter(service: Service, house: Callable[..., House], seat: Desk) -> None:
    """However it names it; until it names another."""
    home = house().set_up("skip").until_ready()
    key = rows(service, ReadingRow)[0].household_id
    own = {**FORM, "meter": "", "household": str(key), "still_wrong": "1"}
    assert "12 Weir St" in seat.see(f"/console/records/new-recall?household={key}")
    page = seat.do("/console/records/new-recall/preview", 200, **own)
    assert "its own meter" in page
    seat.do("/console/records/recalls", seen=digest(page), **own)
    (recall,) = rows(service, MeterRecall)
    assert (recall.household_id, recall.meter, recall.last_day) == (key, None, None)
    assert len(service.recalls.of_household(key, {})) == 1
    home.say("meter", "I have one", "two sharp pins", "number A4")
    assert service.recalls.of_household(key, {"meter": {"whose": "number A4"}}) == ()


def test_another_role_finds_no_such_page(service: Service, ready: House, desk: Seat) -> None:
    agent = desk("rivera")
    agent.see("/console/records", 404)
    agent.do("/console/records/new-recall/preview", 404, **FORM)
    volunteer = desk("sol", role=Role.VOLUNTEER)
    volunteer.see("/console/records", 404)
