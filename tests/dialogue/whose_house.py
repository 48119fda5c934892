"""Households whose phones joined, serve several, were silent or ask for their file: the machine is walked there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from guide_service.dialogue import effects_house as fx
from guide_service.dialogue.events import Event, EventName
from guide_service.dialogue.facts import Facts
from guide_service.dialogue.house_facts import CodeHeard, Deletion, HouseFacts

CODE = "482919"
SEVERAL = HouseFacts(name="12 Weir St", all=(("1", "12 Weir St"), ("2", "7 Mill Rd")), several=True, code=CODE)


def _house(facts: Facts, **changed: Any) -> Facts:
    return replace(facts, house=replace(facts.house, **changed))


CHANGES: dict[type, Callable[[Facts, Any], Facts]] = {
    fx.JoinHousehold: lambda facts, _effect: _house(facts, heard=CodeHeard.HERE, by_code=True),
    fx.SpeakOf: lambda facts, effect: _house(facts, name=dict(facts.house.all)[str(effect.household)]),
    fx.TellCode: lambda facts, effect: _house(facts, code=effect.code),
    fx.RevokeCode: lambda facts, _effect: _house(facts, code=None),
    fx.CodeTried: lambda facts, _effect: _house(facts, tries=facts.house.tries + 1),
    fx.Proved: lambda facts, _effect: _house(facts, must_prove=False),
    fx.AskDeletion: lambda facts, _effect: replace(
        _house(facts, deletion=Deletion.CAN_BE_TAKEN_BACK), escalations={**facts.escalations, "deletion": "waiting"}
    ),
    fx.TakeBackDeletion: lambda facts, _effect: replace(
        _house(facts, deletion=Deletion.NOT_ASKED),
        escalations={name: state for name, state in facts.escalations.items() if name != "deletion"},
    ),
}


def houses(wet: Facts, bare: Facts) -> dict[str, Facts]:
    fresh = HouseFacts(fresh_code=CODE)
    joining = replace(fresh, heard=CodeHeard.JOINS, by_code=True, name="12 Weir St")
    silent = replace(wet, house=HouseFacts(must_prove=True, code=CODE))
    return {
        "joins": replace(wet, role="unknown", house=joining),
        "joins_new": replace(wet, role="unknown", consented=False, house=joining),
        "joins_in_english": replace(
            wet, role="unknown", consented=False, house=joining, county=replace(wet.county, languages=("en",))
        ),
        "code_of_mine": replace(wet, house=replace(SEVERAL, heard=CodeHeard.HERE)),
        "code_with_a_slip": replace(wet, house=replace(fresh, heard=CodeHeard.SLIP)),
        "codes_used_up": replace(wet, house=replace(fresh, tries=5)),
        "several": replace(wet, house=SEVERAL),
        "silent": silent,
        "silent_without_number": replace(silent, address=None, house=HouseFacts(must_prove=True)),
        "silent_and_locked": replace(silent, escalations={"identity": "waiting"}),
        "locked": replace(wet, escalations={"identity": "claimed"}, house=fresh),
        "nothing_to_prove": replace(bare, address=None, house=fresh),
        "deletion_asked": replace(
            wet, escalations={"deletion": "waiting"}, house=HouseFacts(deletion=Deletion.CAN_BE_TAKEN_BACK)
        ),
        "deletion_with_the_county": replace(
            wet, escalations={"deletion": "claimed"}, house=HouseFacts(deletion=Deletion.WITH_THE_COUNTY)
        ),
    }


def in_the_middle(wet: Facts) -> list[tuple[str, str, dict[str, object], Facts]]:
    """Households in a state of their own, with the conversation's memory."""
    silent = replace(wet, house=HouseFacts(must_prove=True, code=CODE))
    stands = {"greeted": True, "after_proof": "home.rest"}
    codes = {
        "joins": HouseFacts(heard=CodeHeard.JOINS, by_code=True, name="12 Weir St"),
        "mine": replace(SEVERAL, heard=CodeHeard.HERE),
        "slip": HouseFacts(heard=CodeHeard.SLIP),
        "used_up": HouseFacts(tries=5),
    }
    return [
        ("silent", "afterwards.look_back", stands, silent),
        ("silent", "order.drying_on", stands, silent),
        ("silent", "meter.have", stands, silent),
        ("silent", "file.prove", stands, silent),
        ("for_deletion", "file.prove", {**stands, "proof_for": "deletion"}, silent),
        ("by_phone", "file.prove", stands, replace(silent, house=replace(silent.house, by_phone=True))),
        *(
            (
                f"calls from {state}",
                "reaching.calls",
                {"greeted": True, "trail": [state], "calls_from": "question"},
                replace(wet, role="unknown", consented=False),
            )
            for state in ("welcome.consent", "joining.consent")
        ),
        ("last_try", "file.prove", {**stands, "proof_tries": 2}, silent),
        ("last_try_for_file", "file.prove", {**stands, "proof_for": "file", "proof_tries": 2}, wet),
        ("settled", "file.locked", stands, silent),
        ("rung", "meter.have", stands, replace(silent, house=replace(silent.house, by_phone=True))),
        *((name, "welcome.new", {}, replace(wet, role="unknown", house=house)) for name, house in codes.items()),
    ]


def events() -> list[Event]:
    return [
        Event(EventName.JOIN, "482 919", "join 482 919"),
        Event(EventName.HOUSE, "2", "7 mill rd"),
        Event(EventName.HOUSE, "numbers", "K1 22 19 17"),
        Event(EventName.REMIND_AT, dt.time(18), "text me at 6pm"),
        Event(EventName.REMIND_AT, dt.time(23), "text me at 11pm"),
        Event(EventName.NAME, "12 Weir", "12 Weir"),
        Event(EventName.NAME, "kitchen", "the kitchen"),
    ]
