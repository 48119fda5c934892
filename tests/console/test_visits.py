"""Readings that agents take and put right, the next check and the stage that they set: kept, assessed, told."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from typing import Any

import pytest
from sqlmodel import col, select

from guide_service.console.visits import number_typed
from guide_service.database import reading, writing
from guide_service.drying.terms import Qualifier
from guide_service.records import (
    Audit,
    Contact,
    Household,
    Job,
    Membership,
    Message,
    ReadingRow,
    ReadyAnswer,
    Verdict,
    WallRow,
)
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import make_contact, one_household

Seat = Callable[..., Desk]


def rows(service: Service, table: Any, *conditions: Any) -> list[Any]:
    with reading(service.engine) as session:
        return list(session.exec(select(table).where(*conditions).order_by(table.id)))


def told(service: Service) -> list[str]:
    return [row.body for row in rows(service, Message, Message.origin == "agent")]


def newest(service: Service, place: str, point: str) -> ReadingRow:
    found = rows(service, ReadingRow, ReadingRow.place == place, ReadingRow.point == point)
    return max((row for row in found if row.superseded_at is None), key=lambda row: (row.taken_on, row.id))  # type: ignore[no-any-return]


def actions(service: Service) -> list[str]:
    return [row.action for row in rows(service, Audit) if row.action not in ("list", "look")]


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("22", (22.0, Qualifier.EXACT)),
        (" 22,5 ", (22.5, Qualifier.EXACT)),
        (">40", (40.0, Qualifier.ABOVE)),
        ("< 6", (6.0, Qualifier.BELOW)),
        ("101", None),
        ("2x", None),
        ("", None),
        ("-3", None),
        ("1e1", None),
    ],
)
def test_a_number_is_taken_only_where_it_is_one(typed: str, number: object) -> None:
    assert number_typed(typed) == number


def test_readings_of_a_visit_are_the_agents_count_and_are_told(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    day = "2027-03-14"
    where = seat.do(f"/console/households/{home}/readings", readings="K1 17 15 13, K3 22 17 14", day=day, right="1")
    assert where.endswith("?done=readings_added")
    mine = rows(service, ReadingRow, ReadingRow.agent_id == seat.agent.id)
    assert [(r.place, r.point, r.value, r.qualifier) for r in mine] == [
        ("K1", "plate", 17.0, "exact"),
        ("K1", "low_stud", 15.0, "exact"),
        ("K1", "mid_stud", 13.0, "exact"),
        ("K3", "plate", 22.0, "exact"),
        ("K3", "low_stud", 17.0, "exact"),
        ("K3", "mid_stud", 14.0, "exact"),
    ]
    assert all(r.confirmed and r.contact_id is None and r.taken_on == dt.date(2027, 3, 14) for r in mine)
    (text,) = told(service)
    assert text.startswith("Larkwater County Extension took readings at your house on Sun Mar 14.")
    assert "Next check" in text
    assert actions(service) == ["add_readings"]
    assert "Rivera, counts" in seat.see(f"/console/households/{home}")


def test_a_third_partys_phone_makes_the_agents_readings_no_less_confirmed(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        session.exec(select(Membership)).one().role = "contractor"
    seat = desk("rivera")
    seat.do(f"/console/households/{home}/readings", readings="K1 17 15 13", day="2027-03-15", right="1")
    assert all(r.confirmed for r in rows(service, ReadingRow, ReadingRow.agent_id == seat.agent.id))
    assert told(service) == [], "who only helps is not told"


@pytest.mark.parametrize("words", ["K1 145 19 17", "X7 22 19 17", "call me", "K1", "K1 22 19 17 stop"])
def test_what_is_not_certain_is_not_stored_and_stays_in_the_form(service: Service, desk: Seat, words: str) -> None:
    home, _ = one_household(service)
    before = len(rows(service, ReadingRow))
    page = desk("rivera").do(f"/console/households/{home}/readings", 422, readings=words, day="2027-03-15")
    assert "Nothing was stored." in page
    assert f">{words}</textarea>" in page
    assert len(rows(service, ReadingRow)) == before
    assert told(service) == []


@pytest.mark.parametrize("day", ["2027-03-16", "2026-12-01", "yesterday"])
def test_a_day_that_cannot_be_is_refused(service: Service, desk: Seat, day: str) -> None:
    home, _ = one_household(service)
    desk("rivera").do(f"/console/households/{home}/readings", 422, readings="K1 22 19 17", day=day)


def test_a_visit_ends_the_reminders_that_it_answers(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    now = service.clock.now()
    with writing(service.engine) as session:
        session.get_one(Household, home).unanswered = 2
        session.add(Job(kind="nudge_due", key=f"nudge:{home}", payload={"household": home}, run_at=now, created_at=now))
    desk("rivera").do(f"/console/households/{home}/readings", readings="K1 17 15 13", day="2027-03-15", right="1")
    assert [job.state for job in rows(service, Job, Job.key == f"nudge:{home}")] == ["cancelled"]
    (check,) = rows(service, Job, Job.key == f"check:{home}")
    house = rows(service, Household)[0]
    assert (house.unanswered, check.state) == (0, "ready")
    assert check.run_at.date() == house.next_check_on


def test_a_misread_number_is_put_right_and_the_old_row_stays(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    old = newest(service, "K1", "plate")
    desk("rivera").do(f"/console/households/{home}/correct", reading=str(old.id), value="31")
    new = newest(service, "K1", "plate")
    kept = rows(service, ReadingRow, ReadingRow.id == old.id)[0]
    assert (kept.value, kept.superseded_at is not None) == (old.value, True)
    assert (new.value, new.replaces, new.taken_on, new.typed) == (31.0, old.id, old.taken_on, "31")
    (text,) = told(service)
    assert text.startswith("We read a number wrong. K1 bottom board is 31, not 19. It is put right.")
    assert "K1" in text.split("put right.")[1]
    assert rows(service, Household)[0].band == "wet"
    last = max(rows(service, Verdict, Verdict.place == "K1"), key=lambda verdict: verdict.id)
    assert (last.band, last.worst) == ("wet", 31.0)


def test_a_reading_can_be_moved_to_its_place(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    old = newest(service, "K1", "plate")
    desk("rivera").do(
        f"/console/households/{home}/correct", reading=str(old.id), value="19", place="K2", point="mid_stud"
    )
    assert newest(service, "K2", "mid_stud").replaces == old.id
    assert told(service)[0].startswith("We noted a number in the wrong spot. 19 is of K2 mid stud.")


def test_what_was_no_reading_is_taken_out(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    old = newest(service, "K1", "plate")
    desk("rivera").do(f"/console/households/{home}/correct", reading=str(old.id), value="", none="1")
    assert newest(service, "K1", "plate").taken_on < old.taken_on
    assert told(service)[0].startswith("We took out a number that was not a reading: K1 bottom board 19.")


def walls(service: Service, home: int) -> dict[str, WallRow]:
    return {row.letter: row for row in rows(service, WallRow, WallRow.household_id == home)}


def test_a_wall_gets_another_name_and_keeps_its_labels(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    desk("rivera").do(f"/console/households/{home}/wall", wall="K", name=" back  kitchen ")
    assert walls(service, home)["K"].name == "back kitchen"
    assert any("is called back kitchen" in body for body in told(service))
    assert "rename_wall" in actions(service)


def test_a_wall_that_is_none_leaves_the_list_with_a_reason_and_its_numbers_count_no_longer(
    service: Service, desk: Seat
) -> None:
    home, _ = one_household(service)
    desk("rivera").do(f"/console/households/{home}/wall", wall="K", remove="1", why="no such room")
    assert walls(service, home)["K"].removed_at is not None
    read = [row for row in rows(service, ReadingRow) if row.place.startswith("K")]
    assert read
    assert all(row.superseded_at is not None for row in read)
    (audit,) = [row for row in rows(service, Audit) if row.action == "remove_wall"]
    assert (audit.household_id, audit.detail["why"]) == (home, "no such room")
    assert any("is off the list" in body for body in told(service))


@pytest.mark.parametrize(
    ("status", "fields"),
    [
        (422, {"wall": "K", "name": ""}),
        (422, {"wall": "K", "remove": "1", "why": ""}),
        (422, {"wall": "K", "name": "x" * 31}),
        (404, {"wall": "Q", "name": "hall"}),
    ],
)
def test_a_wall_is_not_changed_by_half_a_form(
    service: Service, desk: Seat, status: int, fields: dict[str, str]
) -> None:
    home, _ = one_household(service)
    desk("rivera").do(f"/console/households/{home}/wall", status, **fields)
    assert walls(service, home)["K"].removed_at is None
    assert told(service) == []


@pytest.mark.parametrize(
    ("fields", "status"),
    [({"value": "abc"}, 422), ({"value": "20", "place": "Z9"}, 422), ({"value": "20", "point": "wood"}, 422)],
)
def test_a_correction_that_fits_nothing_changes_nothing(
    service: Service, desk: Seat, fields: dict[str, str], status: int
) -> None:
    home, _ = one_household(service)
    old = newest(service, "K1", "plate")
    desk("rivera").do(f"/console/households/{home}/correct", status, reading=str(old.id), **fields)
    assert newest(service, "K1", "plate").id == old.id
    assert told(service) == []


def test_a_replaced_reading_and_one_of_another_house_cannot_be_put_right(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    other, _ = one_household(service, "+12025550124")
    strange = rows(service, ReadingRow, ReadingRow.household_id == other)[0]
    seat = desk("rivera")
    seat.do(f"/console/households/{home}/correct", 404, reading=str(strange.id), value="20")
    old = rows(service, ReadingRow, ReadingRow.household_id == home)[0]
    seat.do(f"/console/households/{home}/correct", reading=str(old.id), value="20")
    seat.do(f"/console/households/{home}/correct", 404, reading=str(old.id), value="21")


def test_a_wall_that_was_said_to_meet_the_limit_is_taken_back_where_it_no_longer_does(
    service: Service, desk: Seat
) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        wall = session.exec(select(WallRow)).one()
        day = service.clock.now().date()
        session.add(ReadyAnswer(household_id=home, wall_id=wall.id, covers=["K1"], at=service.clock.now(),
                                lapses_on=day + dt.timedelta(days=14)))  # fmt: skip
    seat = desk("rivera")
    assert "Said to meet the county" in seat.see(f"/console/households/{home}")
    seat.do(f"/console/households/{home}/correct", reading=str(newest(service, "K1", "plate").id), value="31")
    assert "Kitchen, north wall: what we said of the county's limit does not hold any more." in " ".join(told(service))
    assert "Said to meet the county" not in seat.see(f"/console/households/{home}")
    assert [answer.covers for answer in rows(service, ReadyAnswer)] == [["K1"], []]


def test_each_phone_is_told_in_its_language_and_nobody_who_stopped(
    service: Service, desk: Seat, monkeypatch: pytest.MonkeyPatch
) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        now = service.clock.now()
        session.exec(select(Contact)).one().language = "es"
        stopped = make_contact(session, service, "+12025550125", opted_out_at=now)
        session.add(Membership(contact_id=stopped.id, household_id=home, role="owner", joined_at=now))
    desk("rivera").do(f"/console/households/{home}/next-check", day="2027-03-20")
    (text,) = rows(service, Message, Message.origin == "agent")
    assert (text.language, text.contact_id == stopped.id) == ("es", False)


def test_the_reminder_moves_with_the_check_and_the_household_is_told(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    for day in ("2027-03-20", "2027-03-22"):
        assert seat.do(f"/console/households/{home}/next-check", day=day).endswith("?done=check_set")
    (job,) = rows(service, Job, Job.key == f"check:{home}")
    assert job.run_at == dt.datetime(2027, 3, 22, 13, 0, tzinfo=dt.UTC)
    assert rows(service, Household)[0].next_check_on == dt.date(2027, 3, 22)
    assert told(service)[-1] == "Larkwater County Extension set your next check. It is Mon Mar 22 now."
    seat.do(f"/console/households/{home}/next-check", day="2027-03-22", none="1")
    assert [job.state for job in rows(service, Job, Job.key == f"check:{home}")] == ["cancelled"]
    assert rows(service, Household)[0].next_check_on is None
    for wrong in ("2027-03-15", "2027-12-31", "soon"):
        seat.do(f"/console/households/{home}/next-check", 422, day=wrong)


def test_the_stage_is_set_and_what_it_was_stands_in_the_audit(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    assert seat.do(f"/console/households/{home}/stage", stage="clean").endswith("?done=stage_set")
    seat.do(f"/console/households/{home}/stage", 422, stage="palace")
    house = rows(service, Household)[0]
    audit = rows(service, Audit, col(Audit.action) == "set_stage")[0]
    assert (house.stage, house.version, audit.detail) == ("clean", 1, {"before": "unknown", "stage": "clean"})


def test_a_file_without_a_phone_takes_no_readings(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        session.exec(select(Membership)).one().ended_at = service.clock.now()
    seat = desk("rivera")
    seat.do(f"/console/households/{home}/readings", 409, readings="K1 22 19 17", day="2027-03-15")
    assert f'action="/console/households/{home}/readings"' not in seat.see(f"/console/households/{home}")


def test_the_plot_of_a_place_is_a_picture_of_its_readings(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    page = seat.see(f"/console/households/{home}")
    plots = re.findall(r'<img src="(/console/places/\d+/plot)"', page)
    assert len(plots) == 3
    picture = seat.client.get(plots[0])
    assert picture.headers["content-type"] == "image/svg+xml"
    assert "K1" in picture.text
    assert picture.text.count("<circle") >= 3


def test_two_entries_at_once_are_both_kept(service: Service, desk: Seat, monkeypatch: pytest.MonkeyPatch) -> None:
    """A text comes between look and store: the entry is decided again on what is true then."""
    from guide_service.console import entering

    home, _ = one_household(service)
    seat, looks = desk("rivera"), []
    true_look = entering.look

    def look(*args: Any) -> Any:
        found = true_look(*args)
        if not looks:
            with writing(service.engine) as session:
                session.get_one(Household, home).version += 1
        looks.append(1)
        return found

    monkeypatch.setattr(entering, "look", look)
    seat.do(f"/console/households/{home}/readings", readings="K1 17 15 13", day="2027-03-15", right="1")
    assert len(looks) == 2
    assert len(rows(service, ReadingRow, ReadingRow.agent_id == seat.agent.id)) == 3
