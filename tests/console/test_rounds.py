"""Measuring rounds: assigned by an agent, entered by a volunteer, understood like texts, and nobody's all-clear."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from sqlmodel import col, select

from guide_service.clock import FixedClock
from guide_service.console.roles import Role
from guide_service.database import reading, writing
from guide_service.drying.assess import assess
from guide_service.records import Audit, Check, Contact, Conversation, Household, ReadingRow, RoundHouse, WallRow
from guide_service.records.loading import load_of_both
from guide_service.turning.knowing import facts_of
from guide_service.wiring import Service
from tests.console.conftest import Desk, token_in
from tests.console.rows import make_agent, one_household

Seat = Callable[..., Desk]


class Walk:
    """A volunteer with one house of today's round."""

    def __init__(self, service: Service, seat: Seat) -> None:
        self.service, self.agent = service, seat("rivera")
        self.home, _ = one_household(service)
        with writing(service.engine) as session:
            session.get_one(Household, self.home).address = "14 Weir Lane"
        self.volunteer = seat("walker", role=Role.VOLUNTEER)
        self.today = service.clock.now().astimezone(service.county.zone("millrace")).date()
        self.assign(self.today, self.today + dt.timedelta(days=3))
        with reading(service.engine) as session:
            self.house = session.exec(select(RoundHouse.id)).one()

    def assign(self, first: dt.date, last: dt.date, status: int = 303, volunteer: int | None = None) -> str:
        return self.agent.do(
            f"/console/households/{self.home}/round",
            status,
            volunteer=str(volunteer or self.volunteer.agent.id),
            first_day=str(first),
            last_day=str(last),
        )

    def page(self, status: int = 200) -> str:
        return self.volunteer.see(f"/console/rounds/{self.house}", status)

    def send(self, status: int = 200, day: dt.date | None = None, setting: str = "wood_pins", **numbers: str) -> str:
        fields = {name.replace("__", ":"): value for name, value in numbers.items()}
        data = {"csrf": token_in(self.page()), "taken_on": str(day or self.today), "setting": setting, **fields}
        answer = self.volunteer.client.post(f"/console/rounds/{self.house}", data=data)
        assert answer.status_code == status, answer.text
        return answer.text

    def rows(self) -> list[ReadingRow]:
        with reading(self.service.engine) as session:
            mine = col(ReadingRow.agent_id) == self.volunteer.agent.id
            return list(session.exec(select(ReadingRow).where(mine).order_by(ReadingRow.id)))


@pytest.fixture
def walk(service: Service, desk: Seat) -> Walk:
    return Walk(service, desk)


def standing(walk: Walk) -> list[tuple[str, str, float | None]]:
    return [(row.place, row.point, row.value) for row in walk.rows() if row.superseded_at is None]


def test_many_readings_of_many_places_are_stored_at_once(walk: Walk) -> None:
    page = walk.send(K1__plate="19.5", K1__low_stud="17", K2__plate="18", K3__mid_stud="12")
    assert "4 readings are stored" in page
    assert standing(walk) == [
        ("K1", "plate", 19.5),
        ("K1", "low_stud", 17.0),
        ("K2", "plate", 18.0),
        ("K3", "mid_stud", 12.0),
    ]


def test_they_are_a_third_partys_and_keep_who_took_them_and_how(walk: Walk) -> None:
    walk.send(K1__plate="19,5")
    (row,) = walk.rows()
    assert (row.confirmed, row.contact_id, row.agent_id) == (False, None, walk.volunteer.agent.id)
    assert (row.typed, row.value, row.resolution, row.mode, row.message_id) == ("19,5", 19.5, 0.1, "wood_pins", None)
    with reading(walk.service.engine) as session:
        audit = session.exec(select(Audit).where(Audit.action == "round_readings")).one()
        assert session.get_one(Household, walk.home).last_check_on == walk.today
    assert (audit.household_id, audit.detail["readings"]) == (walk.home, "1")


def test_the_setting_says_nothing_of_what_the_household_reads_that_day(walk: Walk) -> None:
    walk.send(K1__plate="14")
    with reading(walk.service.engine) as session:
        modes = session.exec(select(Check.mode).where(Check.household_id == walk.home)).all()
    assert set(modes) == {"not_asked"}


def test_another_setting_stays_with_the_reading(walk: Walk) -> None:
    walk.send(setting="pinless", K1__plate="19")
    assert [row.mode for row in walk.rows()] == ["pinless"]


@pytest.mark.parametrize(
    ("typed", "suggestion"), [("185", "18.5"), ("60", "60"), ("-3", None), ("abc", None), ("17 18", None), ("0", None)]
)
def test_what_is_not_certain_is_asked_again_and_not_stored(walk: Walk, typed: str, suggestion: str | None) -> None:
    page = walk.send(422, K1__plate=typed, K2__plate="18")
    assert standing(walk) == [("K2", "plate", 18.0)]
    assert "1 number is not certain" in page
    assert f'name="K1:plate" value="{typed}"' in page
    assert (f"The meter shows {suggestion}" in page) is (suggestion is not None)


def test_a_number_that_was_asked_about_counts_when_it_is_said_again(walk: Walk) -> None:
    walk.send(422, K1__plate="185")
    walk.send(K1__plate="185", sure__K1__plate="18.5")
    (row,) = walk.rows()
    assert (row.value, row.typed) == (18.5, "185")


def test_a_number_pad_without_signs_still_tells_what_is_outside_the_range(walk: Walk) -> None:
    walk.send(K1__plate="30", above__K1__plate="1", sure__K1__plate="30", above__K1__low_stud="1")
    walk.send(K2__plate="6", below__K2__plate="1", sure__K2__plate="6")
    assert [(row.qualifier, row.value) for row in walk.rows()] == [("above", 30.0), ("above", None), ("below", 6.0)]
    assert [row.typed for row in walk.rows()] == [">30", "OL", "<6"]


def test_being_sure_of_another_number_stores_nothing(walk: Walk) -> None:
    walk.send(422, K1__plate="60", sure__K1__plate="18.5")
    assert walk.rows() == []


def test_the_same_form_twice_is_stored_once_and_a_new_number_is_a_correction(walk: Walk) -> None:
    for _ in range(2):
        walk.send(K1__plate="19", K2__plate="18")
    assert len(walk.rows()) == 2
    walk.send(K1__plate="20")
    old, _, new = walk.rows()
    assert (old.superseded_at is not None, new.replaces, new.value) == (True, old.id, 20.0)


def test_what_was_confirmed_is_not_replaced(walk: Walk) -> None:
    walk.send(K1__plate="20")
    walk.agent.do(f"/console/households/{walk.home}/confirm-readings")
    walk.send(K1__plate="18")
    assert [(row.value, row.confirmed, row.superseded_at) for row in walk.rows()] == [
        (20, True, None),
        (18, False, None),
    ]


def test_the_households_own_reading_of_that_day_stays(walk: Walk) -> None:
    walk.send(K1__plate="20")
    with reading(walk.service.engine) as session:
        rows = session.exec(select(ReadingRow).where(ReadingRow.place == "K1", ReadingRow.point == "plate")).all()
    of_today = {row.agent_id: row.superseded_at for row in rows if row.taken_on == walk.today}
    assert of_today == {None: None, walk.volunteer.agent.id: None}


def is_ready(walk: Walk) -> bool:
    with reading(walk.service.engine) as session:
        contact = session.exec(select(Contact.id)).first()
        known = load_of_both(session.connection(), contact, walk.home)
    facts = facts_of(walk.service, known, walk.service.clock.now())
    circumstances = replace(facts.circumstances, mould_open=False)
    found = assess(facts.places, facts.walls, facts.readings, policy=facts.policy, air=facts.air,
                   circumstances=circumstances, today=facts.today)  # fmt: skip
    return any(wall.ready for wall in found.walls)


def dry_rounds(walk: Walk, clock: FixedClock) -> None:
    """All points of all places dry, twice, with as many days between as the policy wants."""
    everything = {f"K{n}__{point}": "9" for n in (1, 2, 3) for point in ("plate", "low_stud", "mid_stud")}
    with writing(walk.service.engine) as session:
        session.exec(select(WallRow)).one().bays = 3  # a wall of three bays, all of them followed
    clock.advance(days=walk.service.county.limits.reading_max_age_days + 10)
    walk.today = clock.now().date()
    walk.assign(walk.today, walk.today + dt.timedelta(days=20))
    with reading(walk.service.engine) as session:
        walk.house = session.exec(select(RoundHouse.id).order_by(col(RoundHouse.id).desc())).first() or 0
    for _ in range(3):
        walk.today = clock.now().date()
        walk.send(**everything, **{f"sure__{name}": "9" for name in everything})
        clock.advance(days=5)


def test_no_wall_is_ready_by_a_volunteers_readings_until_they_are_confirmed(walk: Walk, clock: FixedClock) -> None:
    dry_rounds(walk, clock)
    assert len([row for row in walk.rows() if row.superseded_at is None]) == 27
    assert not is_ready(walk)
    with reading(walk.service.engine) as session:
        assert session.get_one(Household, walk.home).ready_walls == 0
    walk.agent = Desk(walk.service, "rivera")
    walk.agent.do(f"/console/households/{walk.home}/confirm-readings")
    assert is_ready(walk)


def test_the_conversation_stays_where_it_stands_and_nothing_is_said(walk: Walk) -> None:
    with reading(walk.service.engine) as session:
        before = [row.model_dump() for row in session.exec(select(Conversation))]
    walk.send(K1__plate="19")
    with reading(walk.service.engine) as session:
        assert [row.model_dump() for row in session.exec(select(Conversation))] == before


SECRETS = ("0123", "can someone call me", "black spots", "owner", "wet", "caution", "31.0", "22.0", "Waiting")


def test_nothing_else_of_the_household_is_shown(walk: Walk) -> None:
    for page in (walk.page(), walk.volunteer.see("/console/rounds"), walk.send(K1__plate="19")):
        assert "14 Weir Lane" in page
        shown = re.sub(r"<[^>]*>", " ", page)
        assert [secret for secret in SECRETS if secret in shown] == []
    assert "K1" in walk.page()


def test_a_house_is_seen_only_on_its_days(walk: Walk, clock: FixedClock) -> None:
    clock.advance(days=4)
    walk.volunteer = Desk(walk.service, "walker")
    walk.page(404)
    assert "No house is assigned" in walk.volunteer.see("/console/rounds")


def test_the_same_volunteer_is_sent_once_and_other_days_move_the_round(walk: Walk) -> None:
    walk.assign(walk.today, walk.today + dt.timedelta(days=7))
    with reading(walk.service.engine) as session:
        row = session.exec(select(RoundHouse)).one()
    assert (row.id, row.last_day) == (walk.house, walk.today + dt.timedelta(days=7))
    walk.assign(walk.today + dt.timedelta(days=9), walk.today + dt.timedelta(days=10))
    with reading(walk.service.engine) as session:
        assert len(session.exec(select(RoundHouse)).all()) == 2


def test_an_assignment_that_was_ended_is_over_at_once(walk: Walk) -> None:
    walk.agent.do(f"/console/round-houses/{walk.house}/end")
    walk.page(404)


@pytest.mark.parametrize("days", [-1, 1])
def test_a_day_outside_the_round_or_to_come_is_refused(walk: Walk, days: int) -> None:
    page = walk.send(422, day=walk.today + dt.timedelta(days=days), K1__plate="19")
    assert walk.rows() == []
    assert 'value="19"' in page, "what was typed is not lost"


def test_without_the_meters_setting_nothing_is_stored(walk: Walk) -> None:
    walk.send(422, setting="", K1__plate="19")
    assert walk.rows() == []


def test_only_volunteers_of_the_own_office_can_be_sent(walk: Walk) -> None:
    make_agent(walk.service, "upstream", "upper", role=Role.VOLUNTEER)
    stranger = Desk(walk.service, "upstream").agent.id
    later = walk.today + dt.timedelta(days=1)
    walk.assign(walk.today, later, 404, stranger)
    walk.assign(walk.today, later, 404, walk.agent.agent.id)
    walk.assign(later, walk.today, 422)
    walk.assign(walk.today, walk.today + dt.timedelta(days=400), 422)
