"""A recall that was made by mistake is taken back: the numbers count as before, and everybody who was told is told."""

from __future__ import annotations

import datetime as dt

from guide_service.records import Audit, Check, Escalation, Household, MeterRecall, ReadingRow, Verdict
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.people import rows, work
from tests.recalls.test_recall import FIRST, NewHouse, recall, texts_since, the


def undo(service: Service, seat: Desk, number: int) -> None:
    done = seat.do(f"/console/records/recalls/{number}/undo", why="It was meter A4 that fell")
    assert done.endswith("?done=recall_undone")
    service.clock.advance(seconds=20)
    work(service)


def coordinator(desk: object) -> Desk:
    return desk("county", None, coordinator=True)  # type: ignore[operator,no-any-return]


def test_readings_count_again_the_household_is_told_and_what_waited_is_settled(
    service: Service, house: NewHouse, desk: object
) -> None:
    house().set_up().until_ready()
    before = {row.id: (row.band, row.passes, row.policy_version) for row in rows(service, Verdict)}
    ready = the(service, Household).ready_walls
    number = recall(service)
    assert the(service, Household).ready_walls == 0 < ready
    last = rows(service, Verdict)[-1].id
    told = texts_since(service, 0)[-1].id
    undo(service, coordinator(desk), number)
    assert {row.recall_id for row in rows(service, ReadingRow)} == {None}
    assert {row.recall_id for row in rows(service, Check)} == {None}
    assert the(service, Household).ready_walls == ready
    kept = rows(service, Verdict)
    assert {row.id: (row.band, row.passes, row.policy_version) for row in kept if row.id in before} == before
    assert last in {row.id for row in kept}, "what was answered meanwhile stays"
    (text,) = texts_since(service, told)
    assert "That was our mistake" in text.body
    (need,) = rows(service, Escalation, Escalation.reason == "meter_recalled")
    assert (need.state, need.outcome) == ("settled", "recall_undone")
    row = the(service, MeterRecall)
    assert (row.undone_why, row.undone_by is not None) == ("It was meter A4 that fell", True)
    assert {"undo_recall", "recall_undone"} <= {each.action for each in rows(service, Audit)}


def test_what_is_measured_afterwards_counts_and_it_cannot_be_taken_back_twice(
    service: Service, house: NewHouse, desk: object
) -> None:
    home = house().set_up()
    home.measure()
    number = recall(service, last_day=None)
    seat = coordinator(desk)
    assert "Say why it is taken back" in seat.do(f"/console/records/recalls/{number}/undo", 422)
    undo(service, seat, number)
    service.clock.advance(days=4)
    home.measure()
    assert {row.recall_id for row in rows(service, ReadingRow)} == {None}
    seat.do(f"/console/records/recalls/{number}/undo", 409, why="again")
    assert "Taken back by" in seat.see(f"/console/records/recalls/{number}")


def test_taken_back_before_anybody_was_told_nobody_is(service: Service, house: NewHouse, desk: object) -> None:
    from guide_service.database import writing
    from guide_service.recalls.finding import Wanted
    from guide_service.recalls.marking import make_recall
    from tests.recalls.conftest import METER

    house().set_up().measure()
    with writing(service.engine) as session:
        number = make_recall(session, service, Wanted(FIRST, None, METER), "low", 7).id
    service.recalls.look_again()
    undo(service, coordinator(desk), number)
    assert texts_since(service, 0) == []
    assert {row.recall_id for row in rows(service, ReadingRow)} == {None}


def test_what_another_recall_would_have_taken_is_that_ones(service: Service, house: NewHouse, desk: object) -> None:
    house().set_up().measure()
    first = recall(service, last_day=FIRST + dt.timedelta(days=1))
    second = recall(service)
    undo(service, coordinator(desk), first)
    assert {row.recall_id for row in rows(service, Check)} == {second}
    assert {row.recall_id for row in rows(service, ReadingRow)} == {second}
