"""A meter of the county goes out to a household, is due, and is back: told, reminded of, and known to a recall."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from sqlalchemy.exc import IntegrityError

from guide_service.carrier.recording import RecordingSender
from guide_service.database import writing
from guide_service.deletion.removing import remove_file
from guide_service.dialogue.effects import EscalationReason
from guide_service.followup.escalations import raise_escalation
from guide_service.lending.loans import DAYS_BETWEEN, lend
from guide_service.recalls.finding import Tie, Wanted, concerned
from guide_service.records import Check, Escalation, Household, Loan
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import one_household
from tests.people import bodies, change, row, rows, work
from tests.recalls.conftest import House

Seat = Callable[..., Desk]
NewHouse = Callable[..., House]


def due(service: Service, days: int = 10) -> str:
    return (service.clock.now().date() + dt.timedelta(days=days)).isoformat()


def lent_by(desk: Seat, service: Service, home: int, meter: str = "a3", days: int = 10) -> Desk:
    seat = desk("rivera")
    form = {"meter": meter, "place": "Millrace office", "due_on": due(service, days)}
    assert seat.do(f"/console/households/{home}/loans", **form).endswith("?done=lent")
    return seat


def days_pass(service: Service, days: int) -> None:
    for _ in range(days * 4):
        service.clock.advance(hours=6)
        work(service)


def the_house(service: Service) -> int:
    return rows(service, Household)[0].id


def test_a_meter_is_lent_the_household_is_told_and_its_checks_bear_it(
    service: Service, sender: RecordingSender, desk: Seat, house: NewHouse
) -> None:
    home = house().set_up(meter="skip")
    number = the_house(service)
    with writing(service.engine) as session:
        raise_escalation(session, service, number, EscalationReason.METER_WANTED, 3)
    seat = lent_by(desk, service, number)
    (loan,) = rows(service, Loan)
    assert (loan.meter, loan.place, loan.lent_by, loan.returned_on) == ("A3", "Millrace office", seat.agent.id, None)
    waited = rows(service, Escalation, Escalation.reason == "meter_wanted")
    assert {(each.state, each.outcome) for each in waited} == {("settled", "lent")}
    work(service)
    told = [body for body in bodies(sender) if "meter A3" in body]
    assert len(told) == 1
    assert "4 Weir Street, Millrace" in told[0]
    home.measure()
    assert [check.meter for check in rows(service, Check)] == ["A3"]
    page = seat.see(f"/console/households/{the_house(service)}")
    assert "due back" in page
    assert "It is back" in page


def test_it_is_reminded_on_the_day_and_once_more_and_then_stands_overdue(
    service: Service, sender: RecordingSender, desk: Seat
) -> None:
    home, _ = one_household(service)
    seat = lent_by(desk, service, home, days=5)
    days_pass(service, 4)
    reminders = [body for body in bodies(sender) if "bring meter A3 back" in body]
    assert reminders == []
    days_pass(service, 2)
    assert len([body for body in bodies(sender) if "bring meter A3 back" in body]) == 1
    days_pass(service, DAYS_BETWEEN + 12)
    assert len([body for body in bodies(sender) if "bring meter A3 back" in body]) == 2
    listed = seat.see("/console/meters")
    assert "1 of them overdue" in listed
    assert "17 days overdue" in listed
    assert "reminded 2 times" in listed
    assert "1 meter overdue" in seat.see("/console/finding")


def overdue(service: Service) -> list[tuple[str, str | None, dict[str, object]]]:
    waiting = rows(service, Escalation, Escalation.reason == "meter_overdue")
    return [(each.state, each.outcome, dict(each.detail)) for each in waiting]


def test_a_meter_too_long_overdue_is_for_a_person_until_it_is_back(
    service: Service, sender: RecordingSender, desk: Seat
) -> None:
    home, _ = one_household(service)
    seat = lent_by(desk, service, home, days=5)
    detail = {"meter": "A3", "due": due(service, 5)}
    days_pass(service, 5 + service.county.loans.person_after - 1)
    assert overdue(service) == []
    days_pass(service, 2)
    assert overdue(service) == [("waiting", None, detail)]
    assert "meter A3, due back" in seat.see("/console")
    days_pass(service, 9)
    assert len(overdue(service)) == 1, "told once: what follows is a person's work"
    (loan,) = rows(service, Loan)
    seat.do(f"/console/loans/{loan.id}/back")
    assert [state[:2] for state in overdue(service)] == [("settled", "meter_back")]


def test_the_county_may_give_more_days_and_a_household_too(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = lent_by(desk, service, home, days=5)
    days_pass(service, 11)
    rules = service.county.loans.model_copy(update={"person_after": 20})
    other = service.with_county(service.county.model_copy(update={"loans": rules}))
    object.__setattr__(service, "in_force", other.in_force)
    days_pass(service, 10)
    assert overdue(service) == []
    days_pass(service, 6)
    assert len(overdue(service)) == 1
    (loan,) = rows(service, Loan)
    seat.do(f"/console/loans/{loan.id}/longer", due_on=due(service, 9))
    assert [state[:2] for state in overdue(service)] == [("settled", "loan_longer")]


def test_of_two_meters_one_brought_back_leaves_the_other_to_be_fetched(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = lent_by(desk, service, home, days=3)
    form = {"meter": "A4", "place": "Millrace office", "due_on": due(service, 3)}
    seat.do(f"/console/households/{home}/loans", **form)
    days_pass(service, 12)
    first, second = sorted(rows(service, Loan), key=lambda loan: loan.meter)
    seat.do(f"/console/loans/{first.id}/back")
    assert [state[0] for state in overdue(service)] == ["waiting"]
    seat.do(f"/console/loans/{second.id}/back")
    assert [state[0] for state in overdue(service)] == ["settled"]


def test_a_meter_that_is_back_is_no_longer_reminded_of_and_can_go_out_again(
    service: Service, sender: RecordingSender, desk: Seat
) -> None:
    home, _ = one_household(service)
    other, _ = one_household(service, "+12025550124")
    seat = lent_by(desk, service, home)
    form = {"meter": "A3", "place": "", "due_on": due(service)}
    refused = seat.do(f"/console/households/{other}/loans", 422, **form)
    assert "That meter is out already" in refused
    assert 'name="meter" required maxlength="20" size="8" list="own-meters" autocomplete="off" value="A3"' in refused
    (loan,) = rows(service, Loan)
    assert seat.do(f"/console/loans/{loan.id}/back").endswith("?done=loan_back")
    assert "meter" not in row(service, Household, home).facts
    days_pass(service, 12)
    assert [body for body in bodies(sender) if "bring meter" in body] == []
    assert len([body for body in bodies(sender) if "meter A3 back. Thank you" in body]) == 1
    assert "A3" in seat.see("/console/meters")
    assert "No meter is out" in seat.see("/console/meters")
    seat.do(f"/console/loans/{loan.id}/back", 409)
    form["due_on"] = due(service)
    assert seat.do(f"/console/households/{other}/loans", **form).endswith("?done=lent")


def test_they_may_keep_it_longer(service: Service, sender: RecordingSender, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = lent_by(desk, service, home, days=3)
    (loan,) = rows(service, Loan)
    seat.do(f"/console/loans/{loan.id}/longer", due_on=due(service, 20))
    seat.do(f"/console/loans/{loan.id}/longer", 422, due_on=due(service, -1))
    days_pass(service, 10)
    assert [body for body in bodies(sender) if "bring meter A3 back" in body] == []


@pytest.mark.parametrize("wrong", [{"meter": ""}, {"due_on": "soon"}, {"due_on": "2020-01-01"}])
def test_what_does_not_fit_lends_nothing(service: Service, desk: Seat, wrong: dict[str, str]) -> None:
    home, _ = one_household(service)
    form = {"meter": "A4", "place": "Millrace office", "due_on": due(service)}
    desk("rivera").do(f"/console/households/{home}/loans", 422, **{**form, **wrong})
    assert rows(service, Loan) == []


def test_of_two_at_one_instant_one_has_the_meter(service: Service) -> None:
    homes = [one_household(service)[0], one_household(service, "+12025550124")[0]]
    until = service.clock.now().date() + dt.timedelta(days=9)
    with writing(service.engine) as session:
        lend(session, service, 1, session.get_one(Household, homes[0]), "A3", "", until)
    with pytest.raises(IntegrityError), writing(service.engine) as session:
        lend(session, service, 1, session.get_one(Household, homes[1]), "A3", "", until)
    assert [loan.household_id for loan in rows(service, Loan)] == homes[:1]


def test_a_loan_of_another_office_is_not_there(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    lent_by(desk, service, home)
    (loan,) = rows(service, Loan)
    other = desk("holt", "upper")
    other.do(f"/console/loans/{loan.id}/back", 404)
    assert "No meter is out" in other.see("/console/meters")


def test_a_recall_takes_the_checks_that_name_no_meter_while_it_was_lent(
    service: Service, desk: Seat, house: NewHouse
) -> None:
    at_home = house().set_up(meter="skip")
    home = the_house(service)
    at_home.measure()
    first = rows(service, Check)[0]
    seat = lent_by(desk, service, home)
    service.clock.advance(days=4)
    at_home.measure()
    (loan,) = rows(service, Loan)
    seat.do(f"/console/loans/{loan.id}/back")
    change(service, Loan, loan.id, lent_on=first.taken_on + dt.timedelta(days=1))
    later = rows(service, Check)[-1]
    change(service, Check, later.id, meter=None)
    with writing(service.engine) as session:
        found = concerned(session, Wanted(first.taken_on, None, "A3"))
        everything = concerned(session, Wanted(first.taken_on, None, "A3", unnamed=True))
    assert [(each.tie, each.checks) for each in found] == [(Tie.LENT, (later.id,))]
    assert sorted(everything[0].checks) == sorted((first.id, later.id)), "each check once"


def test_a_deleted_file_takes_its_loans_along(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    lent_by(desk, service, home, days=3)
    with writing(service.engine) as session:
        gone = remove_file(session, service, session.get_one(Household, home), keep_readings=True)
    assert gone["loan"] == 1
    days_pass(service, 4)
    assert rows(service, Loan) == []
