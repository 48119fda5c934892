"""The machine explored: from many households, every event in every state that is reached, with guards both ways."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from guide_service.dialogue import effects as fx
from guide_service.dialogue.events import Event, EventName
from guide_service.wording.sms import compose
from tests.conversations.walked import NOT_BY_TEXT, may_come_by_text
from tests.dialogue.answers.situations import LANGUAGES
from tests.dialogue.beginnings import households
from tests.dialogue.everything_said import everything, heard
from tests.dialogue.exploring import Explored, explore
from tests.dialogue.transitions import transitions_of
from tests.dialogue.typed import way_of
from tests.dialogue.world import larkwater

WRITTEN_IN = "en"
"""In the language of the flows those are searched too of which it is said that no text takes them."""
ANSWERS_IN_FOUR_LANGUAGES = {"mould.risk on told"}
"""Where every word for somebody at risk is a "yes" to the question that is open there."""


@pytest.fixture(scope="module")
def explored() -> Explored:
    """The whole walk, once."""
    return explore()


def test_no_event_in_any_state_is_a_mistake(explored: Explored, capsys: pytest.CaptureFixture[str]) -> None:
    counts = (
        f"explored: {len(explored.kinds)} states in {sum(map(len, explored.kinds.values()))} kinds of household, "
        f"{explored.turns} turns, {len(explored.taken)} transitions, {len(explored.rendered)} different answers, "
        f"{explored.all_clears} all-clears, {sum(explored.silences.values())} silences"
    )
    with capsys.disabled():
        sys.stdout.write(f"\n{counts}\n")
    assert explored.wrong == []


def test_every_state_is_reached(explored: Explored) -> None:
    passed_through = {state.id for state in larkwater().flows.states.values() if state.always}
    missed = set(larkwater().flows.states) - set(explored.kinds) - passed_through
    assert missed == set()


def test_every_kind_of_event_is_tried(explored: Explored) -> None:
    assert set(explored.events) == {str(name) for name in EventName}


def test_every_guard_is_seen_to_hold_and_to_fail(explored: Explored) -> None:
    used = {t.guard for _name, t in transitions_of(larkwater().flows) if t.guard}
    one_sided = {name: explored.guards[name] for name in sorted(used) if explored.guards[name] != {True, False}}
    assert one_sided == {}


def test_every_transition_is_taken(explored: Explored) -> None:
    missed = [name for name, t in transitions_of(larkwater().flows) if id(t) not in explored.taken]
    assert missed == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_transition_is_taken_by_a_text(
    explored: Explored, language: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """In words that people of that language text, understood and answered in that household's place."""
    missed, taken = set(), 0
    for name, transition in transitions_of(larkwater().flows):
        if not may_come_by_text(name) or (language != WRITTEN_IN and name in NOT_BY_TEXT):
            continue
        way = way_of(transition, explored.taken[id(transition)], language)
        if way is None:
            missed.add(name)
            continue
        taken += 1
        typed, decision = way
        bodies = [text.body for text in compose(decision.says, language, larkwater().catalogues)]
        assert all(b.strip() and "%(" not in b for b in bodies), f"{name}: {typed!r} gets {bodies}"
    with capsys.disabled():
        sys.stdout.write(f"\nby texts in {language}: {taken} transitions are taken, {len(missed)} are not\n")
    if language == WRITTEN_IN:
        assert sorted(missed) == sorted(NOT_BY_TEXT)
    else:
        assert missed <= ANSWERS_IN_FOUR_LANGUAGES


def test_ready_is_said_to_some_and_not_to_others(explored: Explored) -> None:
    assert 0 < explored.all_clears < explored.turns / 2


def test_an_answer_typed_as_it_is_shown_is_that_answer(explored: Explored) -> None:
    """By its number or by its words, in every question that offers answers."""
    wrong = []
    for (state, *_keys), household in explored.offered.items():
        for offer in household.standing.asked.offers:
            for typed in (offer.number, *offer.words, *map(str.lower, offer.words)):
                events = [(event.name, event.value) for event in heard(typed, household)]
                # the name of a language is a wish for it as well
                if [event for event in events if event != (EventName.LANGUAGE, offer.key)] != [
                    (EventName.CHOICE, offer.key)
                ]:
                    wrong.append(f"{state}: {typed!r} is heard as {events}")
    assert len(explored.offered) > 50
    assert wrong == []


def test_the_same_turn_is_decided_the_same_way_twice() -> None:
    flows = larkwater().flows
    for household in households().values():
        for event in everything()[::7]:
            assert household.hears(flows, (event,)) == household.hears(flows, (event,))


def test_nothing_that_was_handed_in_is_changed() -> None:
    flows = larkwater().flows
    for household in households().values():
        slots = {"trail": ["home.menu"], **household.standing.slots}
        one = replace(household, standing=replace(household.standing, slots=slots))
        before = repr(one)
        for event in everything()[::5]:
            one.hears(flows, (event,))
        assert repr(one) == before


@pytest.mark.parametrize("extra", [EventName.DANGER, EventName.MOULD, EventName.READINGS])
def test_what_matters_is_not_lost_beside_something_else(extra: EventName) -> None:
    """Two things in one text: both are heard."""
    flows = larkwater().flows
    wanted: dict[EventName, type[Any]] = {
        EventName.DANGER: fx.Escalate, EventName.MOULD: fx.ReportMould, EventName.READINGS: fx.RecordReadings,
    }  # fmt: skip
    event = next(each for each in everything() if each.name is extra)
    others: Sequence[Event] = [
        Event(EventName.TOPIC, "fans_windows"),
        Event(EventName.GREETING),
        Event(EventName.THANKS),
    ]
    for other in others:
        for order in ((event, other), (other, event)):
            decision, _ = households()["kitchen"].hears(flows, order)
            assert any(isinstance(effect, wanted[extra]) for effect in decision.effects)
