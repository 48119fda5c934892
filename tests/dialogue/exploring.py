"""The machine explored: from many households, every event in every state that is reached, with guards both ways.

The walk goes breadth first from the households of ``world``; a state is entered again for every new combination of the
answers of the guards that decide there (up to ``MOST_KINDS``), and in each of them, as in each household of ``world``,
everything is said to it once.
"""

from __future__ import annotations

from collections import Counter, defaultdict, deque
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
from tests.dialogue.beginnings import households
from tests.dialogue.everything_said import answers, everything, leading_on
from tests.dialogue.transitions import whenever_taken
from tests.dialogue.world import Household, larkwater

MOST_KINDS = 4
"""Kinds of household (by the answers of the guards that matter there) in which one state is explored."""
MOST_EXAMPLES, EXAMPLES_ALIKE = 24, 2
"""Of each transition so many turns that take it are kept, and so many of one state and event."""
ALL_CLEAR = {"ready.wall": "list", "status.ready": "list"}
SILENT_EVENTS = frozenset({EventName.AUTOMATIC, EventName.SILENT, EventName.CONFIRM_DUE})
"""An answering machine, the clock after the last nudge, and when there is nothing to confirm."""
FINAL = "stopped"


@dataclass
class Explored:
    turns: int = 0
    kinds: dict[str, set[tuple[bool, ...]]] = field(default_factory=lambda: defaultdict(set))
    taken: dict[int, list[tuple[Household, Event]]] = field(default_factory=lambda: defaultdict(list))
    """By the identity of a transition, who took it on which event: the first ones of each state and event."""
    guards: dict[str, set[bool]] = field(default_factory=lambda: defaultdict(set))
    events: Counter[str] = field(default_factory=Counter)
    silences: Counter[str] = field(default_factory=Counter)
    all_clears: int = 0
    offered: dict[tuple[str, ...], Household] = field(default_factory=dict)
    """Households with a question open, its answers as they were sent, by the keys of these."""
    rendered: set[tuple[str, ...]] = field(default_factory=set)
    wrong: list[str] = field(default_factory=list)
    now: tuple[Household, Event] | None = None

    def note(self, transition: Transition) -> None:
        """That whoever speaks now takes it."""
        assert self.now is not None
        household, event = self.now
        examples = self.taken[id(transition)]
        alike = sum(h.standing.state == household.standing.state and e == event for h, e in examples)
        if alike < EXAMPLES_ALIKE and len(examples) < MOST_EXAMPLES:
            examples.append(self.now)

    def seen(self) -> int:
        """How much of the flows was seen so far; only ever grows."""
        return len(self.taken) + sum(map(len, self.guards.values()))

    def complain(self, household: Household, event: Event, what: str) -> None:
        if len(self.wrong) < 40:
            self.wrong.append(f"{household.standing.state} on {event.name} {event.value!r}: {what}")


def explore() -> Explored:
    """The whole walk: minutes of work."""
    found = Explored()
    with pytest.MonkeyPatch.context() as patch, whenever_taken(lambda _sheet, transition: found.note(transition)):
        _watch(found, patch)
        _walk(larkwater().flows, found)
    return found


def _watch(found: Explored, patch: pytest.MonkeyPatch) -> None:
    """Notes what guards answer; the same assessment is worked out once."""
    for name, guard in GUARDS.items():

        def asked(sheet: Context, name: str = name, guard: Any = guard) -> bool:
            answer = bool(guard(sheet))
            found.guards[name].add(answer)
            return answer

        patch.setitem(machine.GUARDS, name, asked)
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
    found.now = (household, event)
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
    names = [*deciding[state], "opted_out", "has_no_places", "mould_open", "check_waits", "can_undo"]
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
    if event.name is EventName.PERSON and fx.EscalationReason.PERSON not in raised:
        found.complain(before, event, f"raises {sorted(raised)}")
    if event.name is EventName.MOULD and before.standing.state != FINAL:
        doubted = any(isinstance(e, fx.SetHousehold) and e.facts.get("smell") == "open" for e in decision.effects)
        reported = fx.EscalationReason.MOULD in raised or (event.value == "smell" and doubted)
        if reported is (event.value == "none"):
            found.complain(before, event, f"raises {sorted(raised)}")
