"""Codes and houses where two things happen at once, and what is stored of a code; on each of the two databases."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import replace

import pytest

from guide_service import turn
from guide_service.database import writing
from guide_service.dialogue import codes
from guide_service.followup.retention import seal_codes_anew
from guide_service.records import Contact, Household, Membership, Message, ReadingRow
from guide_service.sealing import Sealer
from guide_service.turning import naming
from tests.people import NUMBER
from tests.turn.conftest import Phones

OTHER, THIRD = "+12025550124", "+12025550125"


def owner(phones: Phones, number: str = NUMBER, address: str = "12 Weir St") -> str:
    """An owner who has told the address and asked for the code, which is returned."""
    for text in ("hello", "1", "1", "Millrace", address):
        phones.say(text, number)
    answer = phones.say("code", number)
    told = re.search(r"code is (\d{3} \d{3})", answer.texts[0][1])
    assert told is not None
    return told[1]


def memberships(phones: Phones) -> list[Membership]:
    return [row for row in phones.rows(Membership) if row.ended_at is None]


def test_a_code_is_stored_sealed_and_as_a_keyed_hash(phones: Phones) -> None:
    code = owner(phones).replace(" ", "")
    home = phones.household()
    assert home is not None
    sealer = phones.service.sealer
    assert home.code_key == sealer.code_keys(code)[0]
    assert code.encode() not in (home.code_sealed or b"")
    assert sealer.open(home.code_sealed or b"", home.code_key_id or "") == code


def test_two_houses_never_get_the_same_code(phones: Phones, monkeypatch: pytest.MonkeyPatch) -> None:
    numbers: Iterator[int] = iter([48291] * 13)
    monkeypatch.setattr(naming.secrets, "randbelow", lambda _limit: next(numbers, 12345))
    owner(phones)
    owner(phones, OTHER, "7 Mill Rd")
    keys = [home.code_key for home in phones.rows(Household)]
    assert None not in keys
    assert len(set(keys)) == 2


def test_a_code_that_is_ended_while_somebody_joins_opens_nothing(
    phones: Phones, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = owner(phones)
    honest = turn._decided

    def ended_meanwhile(*arguments: object) -> object:
        plan = honest(*arguments)  # type: ignore[arg-type]
        monkeypatch.setattr(turn, "_decided", honest)
        phones.say("new code")
        phones.say("2")
        return plan

    monkeypatch.setattr(turn, "_decided", ended_meanwhile)
    answer = phones.say(f"join {code}", OTHER)
    assert "does not open a house now" in answer.texts[0][1]
    assert len({row.household_id for row in memberships(phones)}) == 2


def test_a_joining_text_that_comes_twice_joins_once(phones: Phones) -> None:
    code = owner(phones)
    inbound = phones.inbound(f"join {code}", OTHER)
    first = turn.take_turn(phones.service, inbound)
    again = turn.take_turn(phones.service, inbound)
    assert again.repeated
    assert again.texts == first.texts
    assert len(memberships(phones)) == 2
    assert len(phones.rows(Household)) == 1


def test_a_fault_while_joining_leaves_the_text_out_of_the_house(
    phones: Phones, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = owner(phones)
    phones.say("hello", OTHER)
    home, own = phones.household(), phones.household(OTHER)
    assert home is not None
    assert own is not None
    monkeypatch.setattr(turn, "plan_text", lambda *_arguments: 1 / 0)
    phones.say(f"join {code}", OTHER)
    latest = phones.rows(Message, Message.direction == "in")[-1]
    assert latest.household_id == own.id
    assert {row.household_id for row in memberships(phones)} == {home.id, own.id}


def test_an_opted_out_phone_does_not_join(phones: Phones) -> None:
    code = owner(phones)
    phones.say("hello", OTHER)
    phones.say("STOP", OTHER)
    answer = phones.say(f"join {code}", OTHER)
    assert answer.texts == ()
    assert len({row.household_id for row in memberships(phones)}) == 2


def test_wrong_codes_are_counted_by_phone_and_by_day(phones: Phones) -> None:
    code = owner(phones)
    wrong = [made for n in range(1, 9) if (made := codes.grouped(codes.made_of(n))) != code]
    for made in wrong[:5]:
        assert "does not open" in phones.say(f"join {made}", OTHER).texts[0][1]
    assert "enough tries" in phones.say(f"join {code}", OTHER).texts[0][1]
    assert "You have joined" in phones.say(f"join {code}", THIRD).texts[0][1]
    phones.clock.at += dt.timedelta(days=1)
    assert "You have joined" in phones.say(f"join {code}", OTHER).texts[0][1]
    contact = phones.contact(OTHER)
    assert contact is not None
    assert contact.code_tries == 5


def test_a_phone_whose_membership_was_ended_begins_anew(phones: Phones) -> None:
    code = owner(phones)
    phones.say(f"join {code}", OTHER)
    phones.say("new code")
    phones.say("2")
    phones.clock.at += dt.timedelta(minutes=1)
    phones.say("hello", OTHER)
    home, own = phones.household(), phones.household(OTHER)
    assert home is not None
    assert own is not None
    assert own.id != home.id
    assert "Where are you now" not in phones.say("1", OTHER).texts[0][1]


def test_a_code_moves_to_a_new_secret_and_still_opens(phones: Phones) -> None:
    code = owner(phones)
    fresh = Sealer(["a-new-secret-0123456789-abcdefghijklmnop", *phones.service.settings.keys])
    old, phones.service = phones.service, replace(phones.service, sealer=fresh)
    assert "You have joined" in phones.say(f"join {code}", OTHER).texts[0][1]
    with writing(phones.service.engine) as session:
        assert seal_codes_anew(session, phones.service) == 1
    assert phones.rows(Household)[0].code_key_id == fresh.key_id != old.sealer.key_id
    assert "You have joined" in phones.say(f"join {code}", THIRD).texts[0][1]


def test_the_clock_of_silence_starts_with_every_text(phones: Phones) -> None:
    owner(phones)
    for _ in range(4):
        phones.clock.at += dt.timedelta(days=50)
        assert "Phones change hands" not in phones.say("status").texts[0][1]
    phones.clock.at += dt.timedelta(days=61)
    assert "Phones change hands" in phones.say("status").texts[0][1]
    phones.clock.at += dt.timedelta(days=1)
    assert "house number" in phones.say("status").texts[0][1], "one text later it is still to be shown"
    returned = [contact.returned_at for contact in phones.rows(Contact)]
    assert returned[0] is not None


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("mill rd: K1 12 11 11", True),
        ("the Olson place: K1 plate 22", True),
        ("12 weir: K1 22 19 17", False),
        ("kitchen: 22 19 17", False),
        ("K1: 22 19 17", False),
        ("plate: 22", False),
        ("K1 22 19 17", False),
    ],
)
def test_readings_under_the_name_of_a_house_that_is_not_ours_are_asked(phones: Phones, text: str, asked: bool) -> None:
    owner(phones)
    for step in ("places", "1", "kitchen", "2", "1 2", "2", "2", "2", "2", "3"):
        phones.say(step)
    phones.say(f"join {owner(phones, OTHER, '7 Ossery Ave')}")
    phones.say("12 weir: hello")
    answer = phones.say(text)
    assert ("Which house" in str(answer.texts)) is asked, answer.texts
    if asked:
        assert not phones.rows(ReadingRow)
