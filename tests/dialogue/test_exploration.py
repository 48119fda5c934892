"""The machine explored: from many households, every event in every state that is reached, with guards both ways.

The walk goes breadth first from the households of ``world``; a state is entered again for every new combination of the
answers of the guards that decide there (up to ``MOST_KINDS``), and in each of them, as in each household of ``world``,
everything is said to it once.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict, deque
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any

import pytest

from guide_service.dialogue import context, machine
from guide_service.dialogue import effects as fx
from guide_service.dialogue.context import Context
from guide_service.dialogue.events import Event, EventName
from guide_service.dialogue.flow import FlowSet, Transition
from guide_service.dialogue.guards import GUARDS
from guide_service.dialogue.machine import Decision
from guide_service.dialogue.saying import Say
from guide_service.dialogue.values import placeholders
from guide_service.drying.assess import assess
from guide_service.turning.deciding import as_sent
from guide_service.wording.sms import compose
from tests.dialogue.everything_said import answers, everything, heard, leading_on
from tests.dialogue.world import Household, households, larkwater

MOST_KINDS = 4
"""Kinds of household (by the answers of the guards that matter there) in which one state is explored."""
ALL_CLEAR = {"ready.wall": "list", "status.ready": "list"}
SILENT_EVENTS = frozenset({EventName.AUTOMATIC, EventName.SILENT, EventName.CONFIRM_DUE})
"""An answering machine, the clock after the last nudge, and when there is nothing to confirm."""
FINAL = "stopped"
FALLBACKS = ("(check.rephrase)",)
"""States with a last way on that nothing takes: nothing leads there while nothing is unclear."""


@dataclass
class Explored:
    turns: int = 0
    kinds: dict[str, set[tuple[bool, ...]]] = field(default_factory=lambda: defaultdict(set))
    taken: set[int] = field(default_factory=set)
    guards: dict[str, set[bool]] = field(default_factory=lambda: defaultdict(set))
    events: Counter[str] = field(default_factory=Counter)
    silences: Counter[str] = field(default_factory=Counter)
    all_clears: int = 0
    offered: dict[tuple[str, ...], Household] = field(default_factory=dict)
    """Households with a question open, its answers as they were sent, by the keys of these."""
    rendered: set[tuple[str, ...]] = field(default_factory=set)
    wrong: list[str] = field(default_factory=list)

    def seen(self) -> int:
        """How much of the flows was seen so far; only ever grows."""
        return len(self.taken) + sum(map(len, self.guards.values()))

    def complain(self, household: Household, event: Event, what: str) -> None:
        if len(self.wrong) < 40:
            self.wrong.append(f"{household.standing.state} on {event.name} {event.value!r}: {what}")


@pytest.fixture(scope="module")
def explored() -> Explored:
    """The whole walk, once."""
    found = Explored()
    with pytest.MonkeyPatch.context() as patch:
        _watch(found, patch)
        _walk(larkwater().flows, found)
    return found


def _watch(found: Explored, patch: pytest.MonkeyPatch) -> None:
    """Notes what guards answer and which transitions are taken; the same assessment is worked out once."""
    for name, guard in GUARDS.items():

        def asked(sheet: Context, name: str = name, guard: Any = guard) -> bool:
            answer = bool(guard(sheet))
            found.guards[name].add(answer)
            return answer

        patch.setitem(machine.GUARDS, name, asked)
    honest = machine._Walk.carry_out

    def carry_out(self: Any, transition: Transition) -> None:
        found.taken.add(id(transition))
        honest(self, transition)

    patch.setattr(machine._Walk, "carry_out", carry_out)
    patch.setattr(context, "assess", _assessed_once)


def _assessed_once(
    places: Any, walls: Any, readings: Any, *, policy: Any, air: Any, circumstances: Any, today: Any
) -> Any:
    return _assessed(places, walls, readings, air, circumstances, today)


@cache
def _assessed(places: Any, walls: Any, readings: Any, air: Any, circumstances: Any, today: Any) -> Any:
    policy = next(iter(households().values())).facts.policy
    return assess(places, walls, readings, policy=policy, air=air, circumstances=circumstances, today=today)


def _walk(flows: FlowSet, found: Explored) -> None:
    """Breadth first; a turn that showed something new (a transition, a guard's other answer) is always followed up."""
    catalogue, onward, deciding = everything(), leading_on(), _guards_of(flows)
    waiting = deque((household, True, True) for household in households().values())
    while waiting:
        household, new, told_everything = waiting.popleft()
        told_everything |= _is_new_kind(household, deciding, found)
        if not (told_everything or new):
            continue
        for event in [*answers(household), *(catalogue if told_everything else onward)]:
            seen = found.seen()
            then = _turn(flows, household, event, found)
            if then is not None:
                news = found.seen() > seen
                waiting.append((then, news, False))
                if news:
                    waiting.append((then.later(8), True, False))


def _turn(flows: FlowSet, household: Household, event: Event, found: Explored) -> Household | None:
    found.turns += 1
    found.events[event.name] += 1
    try:
        decision, then = household.hears(flows, (event,))
    except Exception as problem:
        found.complain(household, event, f"{type(problem).__name__}: {problem}")
        return None
    _look_at(flows, household, event, decision, then, found)
    return then


def _guards_of(flows: FlowSet) -> dict[str, list[str]]:
    """Names of the guards that decide in a state or in one that it leads to at once."""
    table: dict[str, list[str]] = {}
    for state in flows.states.values():
        onward = [flows.states[t.to] for t in state.transitions() if t.to in flows.states]
        deciding = [t for each in (state, *onward) for t in each.transitions()]
        table[state.id] = sorted({t.guard for t in deciding if t.guard})
    return table


def _is_new_kind(household: Household, deciding: dict[str, list[str]], found: Explored) -> bool:
    state = household.standing.state
    sheet = Context.of(household.facts, {**household.standing.slots, "state": state}, household.standing.asked, {})
    names = [*deciding[state], "first_contact", "opted_out", "has_no_places", "mould_open", "check_waits", "can_undo"]
    kind = tuple(bool(GUARDS[name](sheet)) for name in names)
    if kind in found.kinds[state] or len(found.kinds[state]) >= MOST_KINDS:
        return False
    found.kinds[state].add(kind)
    return True


def _look_at(
    flows: FlowSet, before: Household, event: Event, decision: Decision, then: Household, found: Explored
) -> None:
    if decision.standing.state not in flows.states:
        found.complain(before, event, f"leads to {decision.standing.state}")
    if not decision.says:
        found.silences[f"{event.name} in {before.standing.state}"] += 1
        if event.name not in SILENT_EVENTS and before.standing.state != FINAL:
            found.complain(before, event, "nothing is said")
    for effect in decision.effects:
        unknown = _names_unknown(effect, then)
        if unknown:
            found.complain(before, event, f"changes {unknown}, which is not there")
    for say in decision.says:
        _look_at_say(flows, before, event, say, then, found)
    _look_at_safety(before, event, decision, found)
    ids = tuple(say.id for say in decision.says)
    if ids not in found.rendered:
        found.rendered.add(ids)
        _kept_as_sent(before, event, decision, then, found)
        for text in compose(decision.says, "en", larkwater().catalogues):
            if "%(" in text.body or not text.body.strip():
                found.complain(before, event, f"reads {text.body!r}")


def _kept_as_sent(before: Household, event: Event, decision: Decision, then: Household, found: Explored) -> None:
    """The offered answers can be kept with the words that the person sees."""
    try:
        asked = as_sent(decision.standing.asked, decision.says, larkwater(), "en")
    except Exception as problem:
        found.complain(before, event, f"its answers cannot be kept: {problem!r}")
        return
    if asked.offers and any(say.id == "offer" for say in decision.says):
        place = (then.standing.state, *(offer.key for offer in asked.offers))
        found.offered.setdefault(place, replace(then, standing=replace(then.standing, asked=asked)))


def _names_unknown(effect: fx.Effect, then: Household) -> str | None:
    """The area, wall or place that an effect names and that nobody has."""
    facts = then.facts
    letters = facts.letters_used | {wall.id for wall in facts.walls}
    if isinstance(effect, fx.SetHousehold):
        return effect.area if effect.area and effect.area not in dict(facts.county.areas) else None
    if isinstance(effect, fx.UpdateWall):
        return None if effect.removed or effect.letter in letters else effect.letter
    if isinstance(effect, fx.AddPlace):
        return None if effect.wall in letters else effect.wall
    if isinstance(effect, fx.UpdatePlace):
        return None if effect.removed or effect.label in {place.label for place in facts.places} else effect.label
    return None


def _look_at_say(flows: FlowSet, before: Household, event: Event, say: Say, then: Household, found: Explored) -> None:
    missing = set(placeholders(flows.messages[say.id].text)) - set(say.args) - {"count"}
    if missing:
        found.complain(before, event, f"{say.id} lacks {sorted(missing)}")
    if say.id in ALL_CLEAR:
        found.all_clears += 1
        facts = then.facts
        walls = _assessed(facts.places, facts.walls, facts.readings, facts.air, facts.circumstances, facts.today).walls
        covered = {label for wall in walls if wall.ready for label in wall.covers}
        said = set(str(say.args[ALL_CLEAR[say.id]]).split(", "))
        if not said <= covered or facts.circumstances.mould_open:
            found.complain(before, event, f"{say.id} of {sorted(said)}, ready are {sorted(covered)}")


def _look_at_safety(before: Household, event: Event, decision: Decision, found: Explored) -> None:
    """Danger first, a person one step away, stop means stop, mould always reaches an agent: whatever the state."""
    raised = {effect.reason: effect for effect in decision.effects if isinstance(effect, fx.Escalate)}
    ids = [say.id for say in decision.says]
    if event.name is EventName.DANGER:
        danger = raised.get(fx.EscalationReason.DANGER)
        if danger is None or danger.urgency != fx.Urgency.DANGER or not ids or not ids[0].startswith("danger."):
            found.complain(before, event, f"raises {sorted(raised)}, says {ids}")
        if decision.standing.state != before.standing.state:
            found.complain(before, event, f"loses the place for {decision.standing.state}")
    if event.name is EventName.STOP:
        opted_out = any(isinstance(effect, fx.OptOut) for effect in decision.effects)
        if ids != ["stop.confirmed"] or decision.standing.state != FINAL or not opted_out:
            found.complain(before, event, f"says {ids}, is then in {decision.standing.state}")
    if event.name is EventName.PERSON and fx.EscalationReason.PERSON not in raised and before.standing.state != FINAL:
        found.complain(before, event, f"raises {sorted(raised)}")
    if event.name is EventName.MOULD and before.standing.state != FINAL:
        doubted = any(isinstance(e, fx.SetHousehold) and e.facts.get("smell") == "open" for e in decision.effects)
        reported = fx.EscalationReason.MOULD in raised or (event.value == "smell" and doubted)
        if reported is (event.value == "none"):
            found.complain(before, event, f"raises {sorted(raised)}")


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
    used = {t.guard for t in _every_transition() if t.guard}
    one_sided = {name: explored.guards[name] for name in sorted(used) if explored.guards[name] != {True, False}}
    assert one_sided == {}


def test_every_transition_is_taken(explored: Explored) -> None:
    missed = [_named(t) for t in _every_transition() if id(t) not in explored.taken]
    assert [name for name in missed if not name.endswith(FALLBACKS)] == []


def test_ready_is_said_to_some_and_not_to_others(explored: Explored) -> None:
    assert 0 < explored.all_clears < explored.turns / 2


def _every_transition() -> list[Transition]:
    flows = larkwater().flows
    of_states = [t for state in flows.states.values() for t in (*state.transitions(), *filter(None, (state.enter,)))]
    return of_states + [t for transitions in flows.anywhere.values() for t in transitions]


def _named(transition: Transition) -> str:
    flows = larkwater().flows
    for state in flows.states.values():
        if any(t is transition for t in state.transitions()):
            return f"{state.file}:{transition.line} ({state.id})"
    return f"anywhere.yaml:{transition.line}"


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
