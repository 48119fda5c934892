"""Texts at the same instant: of one new phone, of two phones of one household, the same text twice."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Sequence
from typing import TypeVar

from sqlmodel import select

from guide_service.database import writing
from guide_service.records import Contact, Conversation, Household, Membership, Message, ReadingRow
from guide_service.turn import take_turn
from tests.people import NUMBER, OTHER_NUMBER
from tests.turn.conftest import Phones, posted

T = TypeVar("T")
SET_UP = ("hello", "1", "1", "1", "1", "skip", "skip", "places", "1", "kitchen", "2", "1 2", "2", "2", "2", "3")


def at_once(doings: Sequence[Callable[[], T]]) -> list[T]:
    """Each in a thread of its own, let go together; what they returned."""
    gate = threading.Barrier(len(doings))
    done: dict[int, T] = {}
    failed: list[BaseException] = []

    def run(number: int, doing: Callable[[], T]) -> None:
        gate.wait()
        try:
            done[number] = doing()
        except BaseException as problem:
            failed.append(problem)

    threads = [threading.Thread(target=run, args=(n, doing)) for n, doing in enumerate(doings)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert not failed, failed
    return [done[n] for n in range(len(doings))]


def test_first_texts_of_one_phone_make_one_household(phones: Phones) -> None:
    texts = ("hello", "there is mold", "water in basement what do I do", "K1 22 19 17")
    answers = at_once([lambda text=text: phones.say(text) for text in texts])
    assert len(phones.rows(Contact)) == len(phones.rows(Household)) == len(phones.rows(Conversation)) == 1
    assert len({answer.message_id for answer in answers}) == len(texts)
    assert {row.outcome for row in phones.rows(Message, Message.direction == "in")} == {"reply"}
    assert all(row.outcome_reason is None for row in phones.rows(Message, Message.direction == "in"))


def test_the_same_text_twice_at_once_is_one_text(phones: Phones) -> None:
    for text in SET_UP:
        phones.say(text)
    inbound = phones.inbound("K1 22 19 17")
    answers = at_once([lambda: take_turn(phones.service, inbound)] * 4)
    assert {answer.texts for answer in answers} == {answers[0].texts}
    assert [answer.repeated for answer in answers].count(False) == 1
    assert len(phones.rows(ReadingRow)) == 3


def test_two_phones_of_one_household_at_once_lose_nothing(phones: Phones) -> None:
    before = one_house_of_two_phones(phones)
    mine = [lambda n=n: phones.say(f"K1 2{n} 19 17") for n in range(4)]
    theirs = [lambda n=n: phones.say(f"K2 2{n} 18 16", OTHER_NUMBER) for n in range(4)]
    at_once([*mine, *theirs])
    after = phones.household()
    assert after is not None
    assert after.version == before.version + 8
    plates = [row.value for row in phones.rows(ReadingRow, ReadingRow.point == "plate")]
    assert sorted(plates) == sorted([20.0, 21.0, 22.0, 23.0] * 2)
    assert {row.outcome_reason for row in phones.rows(Message, Message.direction == "in")} == {None}


def test_texts_at_once_over_http_lose_nothing(phones: Phones) -> None:
    """Of one household and of many new ones, and each of them twice, in turns that share one event loop."""
    before = one_house_of_two_phones(phones)
    pairs = [(f"K1 2{n} 19 17", NUMBER) for n in range(4)] + [(f"K2 2{n} 18 16", OTHER_NUMBER) for n in range(4)]
    pairs += [("hello", f"+120255501{n}") for n in range(60, 72)]
    texts = [phones.inbound(body, number) for body, number in pairs] * 2
    answers = asyncio.run(posted(phones, texts))
    assert [answer.status_code for answer in answers] == [200] * len(texts)
    assert [one.text for one in answers[: len(pairs)]] == [again.text for again in answers[len(pairs) :]]
    after = phones.household()
    assert after is not None
    assert after.version == before.version + 8
    assert len(phones.rows(ReadingRow, ReadingRow.superseded_at.is_(None))) == 6  # type: ignore[union-attr]
    assert len(phones.rows(Household)) == 14
    assert {row.outcome_reason for row in phones.rows(Message, Message.direction == "in")} == {None}


def one_house_of_two_phones(phones: Phones) -> Household:
    for text in SET_UP:
        phones.say(text)
    phones.say("hello", OTHER_NUMBER)
    live_together(phones)
    house = phones.household()
    assert house is not None
    return house


def live_together(phones: Phones) -> None:
    one, other = phones.contact(), phones.contact(OTHER_NUMBER)
    assert one is not None
    assert other is not None
    now = phones.clock.now()
    with writing(phones.service.engine) as session:
        house = session.exec(select(Membership).where(Membership.contact_id == one.id)).one().household_id
        alone = session.exec(select(Membership).where(Membership.contact_id == other.id)).one()
        alone.ended_at = now
        session.add(Membership(contact_id=other.id, household_id=house, role="resident", joined_at=now))
        session.add(
            Conversation(
                contact_id=other.id, household_id=house, state="home.rest", slots={"greeted": True}, updated_at=now
            )
        )


def test_a_stranger_is_never_answered_from_the_file_of_another(phones: Phones) -> None:
    for text in SET_UP:
        phones.say(text)
    phones.say("K1 22 19 17")
    answer = phones.say("status", OTHER_NUMBER)
    assert NUMBER != OTHER_NUMBER
    assert not any("K1" in body or "22" in body for _, body in answer.texts)
