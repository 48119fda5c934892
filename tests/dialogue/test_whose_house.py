"""A phone that must prove whose household it is hears nothing of the file, whatever it texts and wherever it stood."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import pytest

from guide_service.dialogue.context import Context
from guide_service.dialogue.events import Asked, Event, EventName
from guide_service.dialogue.guards_house import proves
from guide_service.dialogue.house_facts import HouseFacts
from guide_service.dialogue.machine import Standing
from guide_service.wording.sms import compose
from tests.dialogue.beginnings import households
from tests.dialogue.everything_said import everything
from tests.dialogue.whose_house import CODE
from tests.dialogue.world import Household, larkwater

OF_THE_FILE = re.compile(r"\b[KP][12]\b|[Kk]itchen|Weir|Millrace|WET|CAUTION|DRY|" + CODE[:3])
ADVICE = frozenset({EventName.TOPIC, EventName.AIR, EventName.MOULD, EventName.NEW_WATER})
"""General advice speaks of drying and of what is wet."""


def silent(state: str) -> Household:
    wet = households()["wet"].facts
    return Household(Standing(state, {"greeted": True}), replace(wet, house=HouseFacts(must_prove=True, code=CODE)))


def said(household: Household, events: Sequence[Event]) -> tuple[str, Household]:
    decision, then = household.hears(larkwater().flows, events)
    return "\n".join(text.body for text in compose(decision.says, "en", larkwater().catalogues)), then


def test_nothing_of_the_file_is_told_before_the_proof() -> None:
    flows = larkwater().flows
    standing = [id_ for id_, state in flows.states.items() if state.ask and not state.final]
    told = [
        f"{state} on {event.name}: {found.group()!r}"
        for state in standing
        for event in everything()
        if event.name not in ADVICE and (found := OF_THE_FILE.search(said(silent(state), (event,))[0]))
    ]
    assert told == []


def test_with_the_proof_the_place_is_kept() -> None:
    _, asked = said(
        silent("check.readings" if "check.readings" in larkwater().flows.states else "home.menu"),
        (Event(EventName.STATUS, None, "status"),),
    )
    answer, then = said(asked, (Event(EventName.NAME, "12", "12"),))
    assert "kept your place" in answer
    assert not then.standing.state.startswith("file.")
    assert not then.facts.house.must_prove


def test_three_wrong_answers_lock_the_file_and_raise_a_person() -> None:
    _, household = said(silent("home.rest"), (Event(EventName.STATUS),))
    for wrong in ("14", "16", "18"):
        assert "identity" not in household.facts.escalations
        _, household = said(household, (Event(EventName.NAME, wrong, wrong),))
    assert household.facts.escalations["identity"] == "waiting"
    answer, _ = said(household, (Event(EventName.NAME, "12", "12"),))
    assert "A person must look first" in answer


@pytest.mark.parametrize(
    ("words", "proof"),
    [
        ("12", True), ("no. 12 weir street", True), (CODE, True), (f"my code is {CODE[:3]} {CODE[3:]}", True),
        ("13", False), ("11 12 13", False), ("weir st", False), ("kitchen", False), ("482 910", False), ("", False),
    ],
)  # fmt: skip
def test_the_code_or_the_house_number_alone_proves_a_household(words: str, proof: bool) -> None:
    facts = silent("home.rest").facts
    assert proves(Context.of(facts, {}, household_asked(), {}), words) is proof


@pytest.mark.parametrize(("words", "proof"), [("the kitchen", True), ("Kitchen", True), ("hall", False),
                                              ("kitchen hall bath bedroom den", False)])  # fmt: skip
def test_a_room_proves_a_household_of_which_no_number_is_known(words: str, proof: bool) -> None:
    facts = replace(silent("home.rest").facts, address="by the old mill")
    assert proves(Context.of(facts, {}, household_asked(), {}), words) is proof


def household_asked() -> Asked:
    return silent("home.rest").standing.asked
