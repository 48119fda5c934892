"""What a row of the waiting list tells, and the batch of routine mould reports."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from typing import Any

import pytest
from sqlmodel import select

from guide_service.console.answered import option_chosen, question_of
from guide_service.console.understood import understood
from guide_service.database import reading, writing
from guide_service.dialogue.effects import EscalationReason
from guide_service.followup.escalations import raise_escalation
from guide_service.records import Audit, Contact, Escalation, Household, Membership, Message, MouldReport
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import fill_house, make_escalation, make_household, make_message

Seat = Callable[..., Desk]


def put(service: Service, number: int, *escalations: dict[str, Any], **household: Any) -> int:
    with writing(service.engine) as session:
        home, contact, _ = make_household(session, service, f"+12025550{100 + number}", **household)
        for values in escalations:
            make_escalation(session, service, home, contact, **values)
    return home.id


def mould(service: Service, number: int, **escalation: Any) -> int:
    home = put(
        service, number, {"reason": "mould", "urgency": 4, "words": f"spots {number}"} | escalation, mould_open=True
    )
    with writing(service.engine) as session:
        report = MouldReport(household_id=home, sense="seen", words="spots", reported_at=service.clock.now())
        session.add(report)
    return home


def text_of(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


@pytest.mark.parametrize(
    ("body", "sent", "chosen"),
    [
        ("1", "Is it wet?\n1 Yes\n2 No", "Yes"),
        (" 2. ", "1) Yes\n2) No, dry", "No, dry"),
        ("3", "1 Yes\n2 No", None),
        ("1 please", "1 Yes", None),
        ("12", "1 Yes\n12 Later", "Later"),
        ("1", None, None),
        (None, "1 Yes", None),
    ],
)
def test_a_number_is_read_from_the_text_that_it_answers(body: str | None, sent: str | None, chosen: str | None) -> None:
    assert option_chosen(body, sent) == chosen


def test_a_question_is_quoted_in_one_line_without_its_answers() -> None:
    assert question_of("Is it\nwet?\n1 Yes\n2 No") == "Is it wet?"
    assert len(question_of("x" * 500)) == 160
    meter = "A meter helps once walls are open. Are they?"
    assert question_of(f"Good.\n{meter}\n1 They are") == meter, "a question that says nothing by itself"
    assert question_of("先拍照。墙有多宽？\n1 一米") == "先拍照。墙有多宽？"


def test_of_numbers_that_follow_one_another_the_place_is_told_once() -> None:
    said = [("K1", None, 24), ("K1", None, 22.5), ("K2", "plate", 31), ("K2", None, 19), (None, None, 18)]
    items = [
        {"place": {"label": place}, "value": value} | ({"point": point} if point else {})
        for place, point, value in said
    ]
    message = Message(understood=[{"event": "readings", "value": {"items": items}}])
    assert understood(message) == "K1 24 22.5, K2 bottom plate 31, K2 19, 18"


def test_what_a_number_answered_is_quoted_where_nothing_was_offered(service: Service, desk: Seat) -> None:
    with writing(service.engine) as session:
        home, contact, _ = make_household(session, service)
        make_message(session, service, home, contact, direction="out", origin="agent", body="How many rooms are wet?")
        answer = make_message(session, service, home, contact, body="4")
        make_escalation(session, service, home, contact, words="4", message_id=answer.id)
    assert "in answer to: How many rooms are wet?" in desk("rivera").see("/console")


def test_everything_of_one_household_is_one_row_at_its_most_urgent_place(service: Service, desk: Seat) -> None:
    put(service, 1, {"words": "urgent", "urgency": 2})
    put(service, 2, {"words": "stalled here", "urgency": 3, "reason": "stalled"},
        {"words": "sparks", "urgency": 1, "reason": "danger"})  # fmt: skip
    page = desk("rivera").see("/console")
    assert re.findall(r"<blockquote[^>]*>(.*?)</blockquote>", page) == ["sparks", "stalled here", "urgent"]
    assert page.count('<li class="need') == 2
    assert len(re.findall(r"/escalations/\d+/claim", page)) == 3
    assert "3 matters are waiting" in page


def test_of_two_dangers_the_one_that_waits_longer_comes_first(service: Service, desk: Seat) -> None:
    for number, minutes in ((1, 50), (2, 5), (3, 20)):
        opened = service.clock.now() - dt.timedelta(minutes=minutes)
        put(service, number, {"words": f"{minutes} ago", "urgency": 1, "reason": "danger", "opened_at": opened})
    page = desk("rivera").see("/console")
    assert re.findall(r"<blockquote[^>]*>(.*?)</blockquote>", page) == ["50 ago", "20 ago", "5 ago"]


@pytest.mark.parametrize("typed", ["next", "plain", "3", "\N{CJK UNIFIED IDEOGRAPH-597D}"])
def test_a_lone_word_or_key_is_quoted_by_the_newest_words_that_say_something(
    service: Service, desk: Seat, typed: str
) -> None:
    with writing(service.engine) as session:
        home, contact, _ = make_household(session, service)
        make_message(session, service, home, contact, body="black spots on the stud behind k3")
        make_message(session, service, home, contact, direction="out", body="Is it bigger?")
        answer = make_message(session, service, home, contact, body=typed)
        make_escalation(session, service, home, contact, words=typed, reason="not_understood", message_id=answer.id)
    page = desk("rivera").see("/console")
    assert re.findall(r"<blockquote[^>]*>(.*?)</blockquote>", page) == ["black spots on the stud behind k3"]


def test_one_word_of_danger_says_enough(service: Service, desk: Seat) -> None:
    with writing(service.engine) as session:
        home, contact, _ = make_household(session, service)
        make_message(session, service, home, contact, body="what a bad day it is")
        cry = make_message(session, service, home, contact, body="fire")
        make_escalation(session, service, home, contact, words="fire", reason="danger", urgency=1, message_id=cry.id)
    page = desk("rivera").see("/console")
    assert re.findall(r"<blockquote[^>]*>(.*?)</blockquote>", page) == ["fire"]


def test_the_words_that_gave_rise_to_it_stay_whatever_is_answered_later(service: Service) -> None:
    kept = []
    with writing(service.engine) as session:
        home, contact, _ = make_household(session, service)
        said = ("spots on the stud", False), ("3", False), ("next", False), ("it was washed once", True)
        for words, by_an_answer in said:
            raise_escalation(session, service, home.id, EscalationReason.MOULD, contact_id=contact.id, words=words,
                             by_an_answer=by_an_answer)  # fmt: skip
            session.flush()
            kept.append(session.exec(select(Escalation.words)).one())
    assert kept == ["spots on the stud"] * 4


def test_a_row_tells_what_is_needed_to_act(service: Service, desk: Seat) -> None:
    with writing(service.engine) as session:
        home, contact, _ = make_household(
            session, service, address="12 Mill Lane", stage="measure", facts={"power_on": False}
        )
        fill_house(session, service, home, contact)
        home.created_at = service.clock.now() - dt.timedelta(days=23)
        member = session.exec(select(Membership)).one()
        member.name, member.role, member.by_code = "Ida", "renter", True
        make_message(session, service, home, contact, direction="out", origin="reply", body="x", texts=["person.open"])
        make_escalation(session, service, home, contact, detail={"risk": True}, reason="mould", alarms=2)
    page = text_of(desk("rivera").see("/console"))
    for expected in (
        "Ida", "renter", "12 Mill Lane", "joined by code", "someone at risk in the house", "day 23 with us",
        "power not checked", "measuring", "wettest 27, now 21, falling", "mold open", "alarmed 2 times",
        "told that a person will answer, Mon, Mar 15, 12:00", "next check told: Sat, Mar 20", "Call",
    ):  # fmt: skip
        assert expected in page, expected


def test_a_row_tells_that_somebody_opted_out(service: Service, desk: Seat) -> None:
    with writing(service.engine) as session:
        home, contact, _ = make_household(session, service)
        make_escalation(session, service, home, contact)
    assert "has opted out" not in text_of(desk("rivera").see("/console"))
    with writing(service.engine) as session:
        session.exec(select(Contact)).one().opted_out_at = service.clock.now()
    assert "has opted out" in text_of(desk("rivera").see("/console"))


def test_days_count_from_the_flood_that_the_county_names(service: Service, desk: Seat) -> None:
    county = service.county.model_copy(update={"flooded_on": dt.date(2027, 3, 1)})
    object.__setattr__(service, "in_force", service.with_county(county).in_force)
    put(service, 1, {})
    put(service, 2, {}, flooded_again_on=dt.date(2027, 3, 10))
    page = desk("rivera").see("/console")
    assert "day 14 since the flood" in page
    assert "day 5 since it flooded again" in page


def test_filters_of_urgency_language_and_what_is_mine(service: Service, desk: Seat) -> None:
    put(service, 1, {"words": "mine", "urgency": 2})
    put(service, 2, {"words": "soon", "urgency": 3})
    seat = desk("rivera")
    with reading(service.engine) as session:
        key = session.exec(select(Escalation.id).where(Escalation.words == "mine")).one()
    seat.do(f"/console/escalations/{key}/claim")

    def words(query: str) -> list[str]:
        return re.findall(r"<blockquote[^>]*>(.*?)</blockquote>", seat.see(f"/console?{query}"))

    assert words("urgency=3") == ["soon"]
    assert words("state=mine") == ["mine"]
    assert f"/escalations/{key}/release" in seat.see("/console")
    assert "/release" not in desk("chief", coordinator=True).see("/console")
    assert words("language=en") == ["mine", "soon"]
    assert words("language=es") == []
    for wrong in ("urgency=5", "language=<b>", "page=0"):
        seat.see(f"/console?{wrong}", 422)


# --- routine mould --------------------------------------------------------------------------------------------------


def test_routine_mould_is_lifted_in_a_batch_with_its_reason(service: Service, desk: Seat) -> None:
    homes = [mould(service, number) for number in (1, 2, 3)]
    seat = desk("rivera")
    page = seat.see("/console")
    assert page.count('type="checkbox" name="home-') == 3
    ticked = {f"home-{home}": "1" for home in homes[:2]}
    where = seat.do("/console/mould-reports/lift-many", why="cleaned, seen on the round", **ticked)
    assert where.endswith("?done=lifted")
    with reading(service.engine) as session:
        reports = session.exec(select(MouldReport).order_by(MouldReport.id)).all()
        open_ = [home.mould_open for home in session.exec(select(Household).order_by(Household.id))]
        settled = [row.outcome for row in session.exec(select(Escalation).order_by(Escalation.id))]
        audit = session.exec(select(Audit).where(Audit.action == "lift_mould")).all()
    assert [r.lifted_why for r in reports] == ["cleaned, seen on the round"] * 2 + [""]
    assert (open_, settled) == ([False, False, True], ["mould_lifted", "mould_lifted", None])
    assert {row.household_id for row in audit} == set(homes[:2])


@pytest.mark.parametrize("changed", [{"urgency": 2}, {"state": "claimed"}])
def test_what_has_become_urgent_or_is_claimed_is_not_lifted_by_an_old_page(
    service: Service, desk: Seat, changed: dict[str, Any]
) -> None:
    homes = [mould(service, 1), mould(service, 2, **changed)]
    fields = {f"home-{home}": "1" for home in homes}
    where = desk("rivera").do("/console/mould-reports/lift-many", why="cleaned", **fields)
    assert where.endswith("?done=lifted_some")
    with reading(service.engine) as session:
        assert [bool(r.lifted_at) for r in session.exec(select(MouldReport).order_by(MouldReport.id))] == [True, False]


def test_mould_beside_anything_else_is_no_routine(service: Service, desk: Seat) -> None:
    home = mould(service, 1)
    with writing(service.engine) as session:
        house = session.get_one(Household, home)
        key = session.exec(select(Membership.contact_id)).one()
        session.add(Escalation(household_id=house.id, contact_id=key, reason="person", urgency=2,
                               opened_at=service.clock.now()))  # fmt: skip
    assert 'type="checkbox" name="home-' not in desk("rivera").see("/console")


def test_a_batch_without_a_reason_or_of_another_office_lifts_nothing(service: Service, desk: Seat) -> None:
    home = mould(service, 1)
    desk("rivera").do("/console/mould-reports/lift-many", 422, why="", **{f"home-{home}": "1"})
    desk("chief", coordinator=True).do("/console/mould-reports/lift-many", 422, why="cleaned")
    desk("holt", "upper").do("/console/mould-reports/lift-many", why="cleaned", **{f"home-{home}": "1"})
    with reading(service.engine) as session:
        assert session.exec(select(MouldReport)).one().lifted_at is None
