from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from guide_service.carrier.delivery import FAILED, FINAL, POLICIES, Action, later_of, policy_for, rank

STORY = ["scheduled", "accepted", "queued", "sending", "sent", "delivered", "read"]
statuses = st.sampled_from([*STORY, "undelivered", "failed", "canceled", "partially_delivered", "received", "nonsense"])


def settled(reports: list[str]) -> str | None:
    current: str | None = None
    for report in reports:
        current = later_of(current, report)
    return current


def test_ranks_rise_along_the_story() -> None:
    assert [rank(status) for status in STORY] == list(range(7))


@given(st.permutations(STORY[:6]))
def test_any_order_of_the_reports_ends_the_same(order: list[str]) -> None:
    assert settled(order) == "delivered"


@given(st.lists(statuses, min_size=1))
def test_repeating_every_report_changes_nothing(reports: list[str]) -> None:
    assert settled(reports) == settled([each for report in reports for each in (report, report)])


@given(st.lists(statuses))
def test_the_rank_never_falls(reports: list[str]) -> None:
    ranks = [rank(settled(reports[:count])) for count in range(len(reports) + 1)]
    assert ranks == sorted(ranks)


@pytest.mark.parametrize(("current", "new"), [*itertools.product(sorted(FINAL), [*STORY, *sorted(FAILED)])])
def test_what_ends_the_story_stays_except_delivered_by_read(current: str, new: str) -> None:
    expected = "read" if (current, new) == ("delivered", "read") else current
    assert later_of(current, new) == expected


def test_an_unknown_status_changes_nothing() -> None:
    assert later_of(None, "nonsense") is None
    assert later_of("sent", "nonsense") == "sent"


@pytest.mark.parametrize(
    ("code", "action", "max_retries"),
    [
        (20003, Action.ALARM, 0),
        (20429, Action.RETRY_LATER, 8),
        (21211, Action.GIVE_UP_NUMBER, 0),
        (21610, Action.MARK_OPTED_OUT, 0),
        (21612, Action.GIVE_UP_SMS, 0),
        (21617, Action.BUG, 0),
        (30001, Action.RETRY_LATER, 5),
        (30003, Action.RETRY_DAYTIME, 3),
        (30004, Action.GIVE_UP_SMS, 0),
        (30005, Action.RETRY_DAYTIME, 1),
        (30006, Action.GIVE_UP_SMS, 0),
        (30007, Action.ALARM, 0),
        (30008, Action.RETRY_LATER, 1),
        (30023, Action.HOLD_UNTIL_RESET, 3),
        (30034, Action.ALARM, 0),
        (30450, Action.RETRY_LATER, 2),
    ],
)
def test_a_code_has_its_policy(code: int, action: Action, max_retries: int) -> None:
    assert (policy_for(code).action, policy_for(code).max_retries) == (action, max_retries)


def test_an_opt_out_is_the_persons_wish_and_no_escalation() -> None:
    assert not policy_for(21610).escalate


def test_a_number_given_up_after_its_retry_is_given_up_as_a_number() -> None:
    assert policy_for(30005).then is Action.GIVE_UP_NUMBER


def test_only_what_stops_everything_holds_the_queue() -> None:
    holding = {code for code, policy in POLICIES.items() if policy.holds_queue}
    assert holding == {20003, 21212, 21603, 21606, 30002, 30024, 30032, 30034, 30035}


def test_retries_belong_to_the_actions_that_retry() -> None:
    retrying = {Action.RETRY_LATER, Action.RETRY_DAYTIME, Action.HOLD_UNTIL_RESET, Action.LOOK_UP}
    assert all((policy.max_retries > 0) == (policy.action in retrying) for policy in POLICIES.values())


def test_every_row_says_what_it_is_and_who_says_so() -> None:
    assert all(policy.note and policy.source for policy in POLICIES.values())


@pytest.mark.parametrize(
    ("code", "http_status", "action"),
    [
        (503, 503, Action.LOOK_UP),
        (503, 0, Action.LOOK_UP),
        (401, 401, Action.ALARM),
        (99999, 403, Action.ALARM),
        (307, 307, Action.ALARM),
        (429, 429, Action.RETRY_LATER),
        (99999, 400, Action.GIVE_UP_SMS),
        (None, 0, Action.GIVE_UP_SMS),
    ],
)
def test_a_code_that_nobody_listed_is_judged_by_its_http_status(
    code: int | None, http_status: int, action: Action
) -> None:
    assert policy_for(code, http_status).action is action


def test_an_unlisted_code_reaches_a_person() -> None:
    assert policy_for(99999).escalate
