"""A meter is recalled: its readings count no longer, what was said by them is taken back, and everybody hears of it."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from guide_service import jobs
from guide_service.database import writing
from guide_service.recalls.finding import Tie, Wanted, concerned
from guide_service.recalls.marking import make_recall
from guide_service.records import (
    Audit,
    Check,
    Contact,
    Escalation,
    Household,
    Membership,
    Message,
    MeterRecall,
    ReadingRow,
    ReadyAnswer,
    RecallHouse,
    Verdict,
)
from guide_service.records.policies import add_version, row_of
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import make_contact
from tests.people import rows, work
from tests.recalls.conftest import METER, House

FIRST, LAST = dt.date(2027, 3, 15), dt.date(2027, 3, 19)
AGENT = 7
NewHouse = Callable[..., House]


def recall(service: Service, **wanted: Any) -> int:
    """As the page makes it, and the worker's part; id of the recall."""
    with writing(service.engine) as session:
        asked = Wanted(**({"first_day": FIRST, "meter": METER} | wanted))
        made = make_recall(session, service, asked, "read 3 points low on its block", AGENT)
    service.recalls.look_again()
    service.clock.advance(seconds=10)
    work(service)
    return made.id


def the(service: Service, table: Any, *where: Any) -> Any:
    (found,) = rows(service, table, *where)
    return found


def texts_since(service: Service, last: int) -> list[Message]:
    return list(rows(service, Message, Message.origin == "agent", Message.id > last))


def said_since(service: Service, last: int) -> str:
    """To the one phone of the house, in however many texts it came."""
    said = texts_since(service, last)
    assert len({row.contact_id for row in said}) == 1
    return "\n".join(row.body or "" for row in said)


def newest_message(service: Service) -> int:
    return max(row.id for row in rows(service, Message))


def test_a_wall_that_was_called_ready_is_taken_back_told_and_brought_before_a_person(
    service: Service, house: NewHouse
) -> None:
    house().set_up().until_ready()
    assert the(service, Household).ready_walls == 1
    before, last = rows(service, Verdict), newest_message(service)
    numbers = [(r.place, r.point, r.value, r.typed, r.superseded_at) for r in rows(service, ReadingRow)]

    key = recall(service)

    home = the(service, Household)
    assert (home.ready_walls, home.dry, home.band) == (0, 0, "unread")
    assert home.next_check_on is not None
    assert home.next_check_on > LAST, "not today: another meter has to be found first"
    text = said_since(service, last)
    assert "the meter you measured with reads wrong" in text
    assert "Kitchen: we told you that your readings meet the county's limit. That does not hold any more." in text
    assert "A person from Larkwater County Extension will call you." in text
    assert "Please do not use that meter any more." in text
    assert "Next check:" in text
    need = the(service, Escalation, Escalation.reason == "meter_recalled")
    assert (need.urgency, need.state, need.detail["walls"]) == (2, "waiting", "Kitchen")
    assert [(r.place, r.point, r.value, r.typed, r.superseded_at) for r in rows(service, ReadingRow)] == numbers
    assert {r.recall_id for r in rows(service, ReadingRow)} == {key}
    kept = [row for row in rows(service, Verdict) if row.id in {each.id for each in before}]
    assert [(v.band, v.passes, v.policy_version, v.reasons) for v in kept] == [
        (v.band, v.passes, v.policy_version, v.reasons) for v in before
    ], "a verdict stays as it was given"
    assert {v.recall_id for v in kept} == {key}
    new = [row for row in rows(service, Verdict) if row.id not in {each.id for each in before}]
    assert {(v.place, v.band, v.passes) for v in new} == {("K1", "unread", False), ("K2", "unread", False)}
    assert all({"meter_recalled"} <= {reason["code"] for reason in v.reasons} for v in new)
    answers = rows(service, ReadyAnswer)
    assert [(a.covers != [], a.recall_id == key) for a in answers] == [(True, True), (False, False)]
    row = the(service, RecallHouse)
    assert (row.tie, row.checks, row.walls, row.told) == ("named", 2, ["Kitchen"], 1)
    assert [a.action for a in rows(service, Audit)][-1] == "recalled"


def test_the_policy_version_of_a_verdict_survives_a_change_and_a_recall(service: Service, house: NewHouse) -> None:
    """The taken back verdict says by which version it was given, the new one by which it was weighed."""
    house().set_up().until_ready()
    old = {v.id for v in rows(service, Verdict)}
    service.in_force.seed(service.clock.now())
    with writing(service.engine) as session:
        stricter = replace(service.policy(), version=2, dry_below_mc=14.0)
        add_version(session, row_of(stricter, {}, "stricter", service.clock.now(), made_by=AGENT))
    key = recall(service)
    versions = {(v.id in old, v.policy_version, v.recall_id) for v in rows(service, Verdict)}
    assert versions == {(True, 1, key), (False, 2, None)}


def test_an_answer_given_by_another_meter_still_stands(service: Service, house: NewHouse) -> None:
    """Two dry rounds with A4 carry the wall; a third with the bad A3 is taken away and changes nothing."""
    home = house().set_up("number A4").until_ready()
    home.say("meter", "I have one", "two sharp pins", f"number {METER}")
    service.clock.advance(days=1)
    home.measure()
    last = newest_message(service)
    recall(service, first_day=dt.date(2027, 3, 20))
    assert the(service, Household).ready_walls == 1
    assert rows(service, Escalation, Escalation.reason == "meter_recalled") == []
    text = said_since(service, last)
    assert "reads wrong" in text
    assert "limit" not in text, "nothing was taken back"
    assert [c.recall_id is not None for c in rows(service, Check)] == [False, False, True]


def test_a_number_of_a_bad_meter_can_still_make_a_verdict_worse(service: Service, house: NewHouse) -> None:
    home = house().set_up("number A4").measure()
    home.say("meter", "I have one", "two sharp pins", f"number {METER}")
    service.clock.advance(days=4)
    home.measure("K1 24 23 22, K2 11 10 10")
    recall(service, first_day=dt.date(2027, 3, 19))
    bands = {v.place: v.band for v in rows(service, Verdict)}
    assert bands["K1"] == "wet", "wet by the bad meter is not forgotten"


def test_what_is_measured_with_it_afterwards_does_not_count_until_it_is_in_order(
    service: Service, house: NewHouse, desk: Callable[..., Desk]
) -> None:
    home = house().set_up()
    key = recall(service)
    assert the(service, RecallHouse).tie == "holds", "it has the meter, and has not measured yet"
    home.until_ready()
    assert the(service, Household).ready_walls == 0
    assert {r.recall_id for r in rows(service, ReadingRow)} == {key}
    assert {c.recall_id for c in rows(service, Check)} == {key}
    replies = " ".join(row.body for row in rows(service, Message, Message.origin == "reply"))
    assert "The meter you named reads wrong, so low numbers do not count as dry." in replies
    assert "meet the county's limit" not in replies

    seat = desk("vega", None, coordinator=True)
    seat.do(f"/console/records/recalls/{key}/end", last_day="2027-03-19")
    service.clock.advance(days=1)
    home.until_ready()
    assert the(service, Household).ready_walls == 1, "what is measured after that day counts"


def test_another_meter_counts_at_once(service: Service, house: NewHouse) -> None:
    home = house().set_up()
    recall(service)
    home.say("meter", "I have one", "two sharp pins", "number A4").until_ready()
    assert the(service, Household).ready_walls == 1


def test_who_only_helps_is_told_too_and_who_said_stop_is_not(service: Service, house: NewHouse) -> None:
    house().set_up().until_ready()
    home = the(service, Household)
    with writing(service.engine) as session:
        for number, role, language in (("+12025550124", "contractor", "es"), ("+12025550125", "owner", "en")):
            contact = make_contact(session, service, number, language=language)
            joined = service.clock.now()
            session.add(Membership(contact_id=contact.id, household_id=home.id, role=role, joined_at=joined))
            if role == "owner":
                contact.opted_out_at = joined
    last = newest_message(service)
    recall(service)
    said = texts_since(service, last)
    phones = {row.id: row.last_digits for row in rows(service, Contact)}
    assert {(phones[row.contact_id], row.language) for row in said} == {("0123", "en"), ("0124", "es")}
    spanish = " ".join(row.body or "" for row in said if row.language == "es")
    assert "el medidor con que midió marca mal" in spanish
    assert "no la cierre" in spanish


def test_a_phone_that_was_silent_for_long_hears_nothing_of_the_house(service: Service, house: NewHouse) -> None:
    house().set_up().until_ready()
    service.clock.advance(days=61)
    last = newest_message(service)
    recall(service)
    text = said_since(service, last)
    assert "reads wrong" in text
    assert "Please leave the walls open" in text
    assert not re.search("kitchen|K1|K2|Next check", text, re.IGNORECASE)


def test_it_is_told_in_the_hours_in_which_we_speak(service: Service, house: NewHouse) -> None:
    house().set_up().until_ready()
    service.clock.advance(hours=11)  # 23:00 there
    last = newest_message(service)
    recall(service)
    assert {row.status for row in texts_since(service, last)} == {"waiting"}
    service.clock.advance(hours=9, minutes=5)
    work(service)
    assert {row.status for row in texts_since(service, last)} == {"queued"}


def test_a_household_that_closed_is_to_be_called_and_gets_no_check(service: Service, house: NewHouse) -> None:
    house().set_up().until_ready().say("we closed the wall")
    assert the(service, Household).facts["closed_on"]
    last = newest_message(service)
    recall(service)
    text = said_since(service, last)
    assert "If a wall is closed already, leave it as it is. A person from" in text
    assert "Next check" not in text
    need = the(service, Escalation, Escalation.reason == "meter_recalled")
    assert need.detail["closed"] == "yes"
    assert the(service, RecallHouse).closed


def test_an_answer_that_has_lapsed_is_taken_back_too(service: Service, house: NewHouse) -> None:
    """While it held, somebody may have closed the wall by it."""
    house().set_up().until_ready()
    service.clock.advance(days=20)
    recall(service)
    assert rows(service, Escalation, Escalation.reason == "meter_recalled")


@pytest.mark.parametrize(
    ("named", "wanted", "tie"),
    [
        ("the county's, A 3", {}, Tie.NAMED),
        ("A33", {}, None),
        ("skip", {}, None),
        ("skip", {"unnamed": True}, Tie.UNNAMED),
        ("my brother Joe", {"meter": "joe"}, Tie.NAMED),
    ],
)
def test_how_a_check_is_tied_to_a_meter(
    service: Service, house: NewHouse, named: str, wanted: dict[str, Any], tie: Tie | None
) -> None:
    house().set_up(named).measure()
    asked = Wanted(**({"first_day": FIRST, "last_day": LAST, "meter": METER} | wanted))
    with writing(service.engine) as session:
        assert [each.tie for each in concerned(session, asked)] == ([tie] if tie else [])


def test_a_check_without_a_name_is_of_the_meter_that_the_household_says_it_has(
    service: Service, house: NewHouse
) -> None:
    home = house().set_up("skip").measure()
    home.say("meter", "I have one", "two sharp pins", f"number {METER}")
    with writing(service.engine) as session:
        (found,) = concerned(session, Wanted(FIRST, LAST, METER))
        assert (found.tie, len(found.checks)) == (Tie.HAS, 1)
        assert concerned(session, Wanted(dt.date(2027, 3, 16), LAST, METER)) == [], "only the days of the recall"


def test_what_a_process_stores_that_has_not_heard_of_it_is_marked_by_the_job(service: Service, house: NewHouse) -> None:
    home = house().set_up()
    assert service.recalls.of_household(0, {}) == ()  # looked up just now: the recall is not heard of
    with writing(service.engine) as session:
        key = make_recall(session, service, Wanted(FIRST, None, METER), "low", AGENT).id
    home.until_ready()
    assert the(service, Household).ready_walls == 1
    service.recalls.look_again()
    work(service)
    assert the(service, Household).ready_walls == 0
    assert {r.recall_id for r in rows(service, ReadingRow)} == {key}
    assert rows(service, Escalation, Escalation.reason == "meter_recalled")


def test_a_second_run_of_its_job_says_nothing_twice(service: Service, house: NewHouse) -> None:
    house().set_up().until_ready()
    key = recall(service)
    last = newest_message(service)
    with writing(service.engine) as session:
        now = service.clock.now()
        jobs.enqueue(session, "recall", key=f"recall:{key}", payload={"recall": key, "after": 0}, run_at=now, now=now)
    work(service)
    assert texts_since(service, last) == []
    assert the(service, MeterRecall).checks == 2
