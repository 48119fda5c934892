"""A call that is cut off anywhere goes on where it stood; nothing is lost, nothing counts twice."""

from __future__ import annotations

import threading
from typing import Any

import pytest

from guide_service import turn
from guide_service.carrier.form import InboundText
from guide_service.records import Call, Conversation, Household, Message, ReadingRow
from guide_service.turn import take_turn
from guide_service.turning.deciding import Plan
from guide_service.turning.keeping import Answer
from guide_service.wiring import Service
from tests.calls.conftest import house_with_places
from tests.calls.phone import Exchange
from tests.people import NUMBER, rows

CHECK = ("1", "1", "1", "221917", "1", "201815", "1")
"""Readings, wood setting, block, then two places with their numbers read back."""
VALUES = [22.0, 19.0, 17.0, 20.0, 18.0, 15.0]


def values(exchange: Exchange) -> list[float | None]:
    return [row.value for row in rows(exchange.service, ReadingRow)]


def text(exchange: Exchange, body: str, sid: str = "SM" + "1" * 32) -> Answer:
    settings = exchange.service.settings
    return take_turn(exchange.service, InboundText(sid, settings.account_sid, NUMBER, settings.number, body))


@pytest.mark.parametrize("cut", range(len(CHECK) + 1))
def test_a_call_cut_off_at_any_step_resumes(exchange: Exchange, cut: int) -> None:
    house_with_places(exchange.service, places=2)
    first = exchange.call()
    for key in CHECK[:cut]:
        first.key(key)
        first.retry()
    first.hang_up()
    counted = 3 * (cut >= 5) + 3 * (cut >= 7)
    assert values(exchange) == VALUES[:counted]
    again = exchange.call()
    if cut == len(CHECK):
        assert "K 1" not in again.says
        return
    # what was only read back and not confirmed is asked again; everything else is behind the caller
    rest = CHECK[cut - 1 if cut in (4, 6) else cut :]
    again.keys(*rest)
    assert values(exchange) == VALUES
    assert len({message.carrier_sid for message in rows(exchange.service, Message, Message.direction == "in")}) == len(
        rows(exchange.service, Message, Message.direction == "in")
    )


def test_a_webhook_that_comes_again_changes_nothing(exchange: Exchange) -> None:
    house_with_places(exchange.service, places=1)
    phone = exchange.call()
    phone.retry()
    for key in CHECK[:5]:
        phone.key(key)
        phone.retry()
    assert values(exchange) == VALUES[:3]
    assert [call.step for call in rows(exchange.service, Call)] == [5]


def test_a_text_meanwhile_does_not_become_the_answer_to_another_question(exchange: Exchange) -> None:
    house_with_places(exchange.service, places=2)
    phone = exchange.call()
    phone.keys("1")
    text(exchange, "1")  # answers the wood setting; the block is asked now
    said = phone.key("4")  # the 4 of the question that was heard: not sure
    assert "came in by text" in said
    assert "check block" in said
    phone.key("1")
    assert "K 1" in phone.says


def test_readings_by_text_and_by_call_of_the_same_moment_are_both_kept(exchange: Exchange) -> None:
    house_with_places(exchange.service, places=2)
    phone = exchange.call()
    phone.keys("1", "1", "1", "221917")
    failed: list[BaseException] = []

    def at_once(do: object) -> None:
        try:
            do()  # type: ignore[operator]
        except BaseException as problem:
            failed.append(problem)

    threads = [
        threading.Thread(target=at_once, args=(lambda: phone.key("1"),)),
        threading.Thread(target=at_once, args=(lambda: text(exchange, "K2 20 18 15"),)),
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert sorted(value or 0 for value in values(exchange)) == sorted(VALUES)


def test_a_text_that_comes_while_a_call_is_being_decided_is_lost_no_more_than_the_call(
    exchange: Exchange, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file was looked up for the call, then the text was taken, then the call was to be stored."""
    house_with_places(exchange.service, places=2)
    phone = exchange.call()
    phone.keys("1", "1", "1", "221917")
    honest, decided = turn.plan_text, []

    def with_a_text_meanwhile(service: Service, inbound: InboundText, *rest: Any) -> Plan:
        plan = honest(service, inbound, *rest)
        if inbound.call is not None:
            decided.append(inbound.sid)
            if len(decided) == 1:
                text(exchange, "K2 20 18 15")
        return plan

    monkeypatch.setattr(turn, "plan_text", with_a_text_meanwhile)
    phone.key("1")
    phone.retry()
    assert len(decided) == 2, "decided again on what is true now"
    assert sorted(value or 0 for value in values(exchange)) == sorted(VALUES)
    (home,) = rows(exchange.service, Household)
    assert (home.wet, home.caution, home.dry) == (1, 1, 0), "the summary knows of both"


def test_what_was_begun_by_call_goes_on_by_text(exchange: Exchange) -> None:
    house_with_places(exchange.service, places=2)
    phone = exchange.call()
    phone.keys(*CHECK[:5])
    phone.hang_up()
    text(exchange, "20 18 15")
    assert values(exchange) == VALUES
    assert rows(exchange.service, Conversation)[0].state == "home.rest"


def test_a_forged_webhook_leaves_no_trace(exchange: Exchange) -> None:
    house_with_places(exchange.service)
    base = f"{exchange.service.settings.address}/carrier/voice"
    form = {"CallSid": "CA" + "0" * 32, "From": NUMBER, "To": "x", "Direction": "inbound"}
    assert exchange.post(base, form, signature="wrong").status_code == 403
    assert rows(exchange.service, Call) == []
