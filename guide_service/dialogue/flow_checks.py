"""What is refused of the flows as a whole, with file and line: no household must ever meet an author's mistake."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from guide_service.dialogue.deeds import DEEDS
from guide_service.dialogue.events import Expect
from guide_service.dialogue.flow import BACK, COMMON_EXITS, SAFETY_EVENTS, SAME, FlowSet, State, Transition
from guide_service.dialogue.guards import GUARDS
from guide_service.dialogue.offers import OFFERS
from guide_service.dialogue.strict_yaml import FlowFileError
from guide_service.dialogue.tellings import TELLINGS
from guide_service.dialogue.values import VALUES, placeholders
from guide_service.wording.checking import CARRIER_KEYWORDS
from guide_service.wording.longest import at_its_longest
from guide_service.wording.messages import Message
from guide_service.wording.segments import segments

KNOWN_STATES = "known_states.txt"
"""Every state id that was ever shipped, one a line: ids are permanent."""


def check_flows(flows: FlowSet, folder: Path) -> None:
    """Raise ``FlowFileError`` for the first thing that is wrong."""
    _check_initial(flows, folder)
    for state in flows.states.values():
        _check_state(state, flows)
    for transitions in flows.anywhere.values():
        for transition in transitions:
            _check_transition(transition, flows, "anywhere.yaml")
    _check_common_exits(flows, folder)
    _check_reachable(flows)
    _check_permanence(flows, folder)
    _check_circles(flows)
    for message in flows.messages.values():
        _check_budget(message)


def _check_initial(flows: FlowSet, folder: Path) -> None:
    if flows.initial not in flows.states:
        raise FlowFileError(folder.name, 1, f"the initial state {flows.initial!r} does not exist")


def _check_state(state: State, flows: FlowSet) -> None:
    _check_way_on(state)
    for message in filter(None, (state.lead, state.ask)):
        _check_message(message, state.file, state.line, flows)
    if state.offers and state.offers not in OFFERS:
        raise FlowFileError(state.file, state.line, f"unknown offers {state.offers!r}")
    for answer in state.answers:
        _check_message(answer.label, state.file, answer.line, flows)
        label = flows.messages[answer.label].text
        if label.strip().upper() in CARRIER_KEYWORDS:
            raise FlowFileError(state.file, answer.line, f"the answer {label!r} is a word that the carrier takes")
    for event in state.on:
        if event in SAFETY_EVENTS:
            raise FlowFileError(state.file, state.line, f"{state.id!r}: {event} is handled by anywhere alone")
    if state.always and state.always[-1].guard is not None and not state.ask:
        raise FlowFileError(
            state.file, state.line, f"{state.id!r}: the last of always needs no guard, or the state a question"
        )
    for transition in state.transitions():
        _check_transition(transition, flows, state.file)
    if state.enter:
        _check_transition(state.enter, flows, state.file)


def _check_way_on(state: State) -> None:
    moves = any(t.to for t in state.transitions())
    if not (moves or state.final or state.expect == Expect.NOTHING):
        raise FlowFileError(state.file, state.line, f"the state {state.id!r} has no way on")
    if state.expect not in (Expect.NOTHING,) and not state.ask:
        raise FlowFileError(state.file, state.line, f"the state {state.id!r} waits for an answer and asks nothing")
    if not (moves or state.final or state.ask or state.on):
        raise FlowFileError(state.file, state.line, f"the state {state.id!r} has no way on")


def _check_transition(transition: Transition, flows: FlowSet, file: str) -> None:
    if transition.to and transition.to not in {BACK, SAME} and transition.to not in flows.states:
        raise FlowFileError(file, transition.line, f"unknown target {transition.to!r}")
    if transition.guard and transition.guard not in GUARDS:
        raise FlowFileError(file, transition.line, f"unknown guard {transition.guard!r}")
    for deed in transition.do:
        if deed not in DEEDS:
            raise FlowFileError(file, transition.line, f"unknown effect {deed!r}")
    for telling in transition.tell:
        if telling not in TELLINGS:
            raise FlowFileError(file, transition.line, f"unknown telling {telling!r}")
    for message in transition.say:
        _check_message(message, file, transition.line, flows)


def _check_message(id_: str, file: str, line: int, flows: FlowSet) -> None:
    if id_ not in flows.messages:
        raise FlowFileError(file, line, f"unknown message {id_!r}")
    for name in placeholders(flows.messages[id_].text):
        if name not in VALUES:
            raise FlowFileError(file, line, f"the message {id_!r} names the unknown value %({name})s")


def _check_common_exits(flows: FlowSet, folder: Path) -> None:
    for event in (*COMMON_EXITS, *SAFETY_EVENTS):
        if not flows.anywhere.get(event):
            raise FlowFileError(folder.name, 1, f"anywhere offers no way on for {event}")
    for state in flows.states.values():
        for event in COMMON_EXITS:
            closed = [t for t in state.on.get(event, ()) if t.empty]
            if closed and not state.final:
                raise FlowFileError(
                    state.file, closed[0].line, f"the state {state.id!r} does not offer the exit {event}"
                )


def _targets(state: State) -> Iterator[str]:
    for transition in state.transitions():
        if transition.to and transition.to not in {BACK, SAME}:
            yield transition.to


def _check_reachable(flows: FlowSet) -> None:
    anywhere = [t.to for ts in flows.anywhere.values() for t in ts if t.to and t.to not in {BACK, SAME}]
    waiting, seen = [flows.initial, *anywhere], set()
    while waiting:
        id_ = waiting.pop()
        if id_ not in seen:
            seen.add(id_)
            waiting += _targets(flows.states[id_])
    for state in flows.states.values():
        if state.id not in seen:
            raise FlowFileError(state.file, state.line, f"the state {state.id!r} cannot be reached")


def _check_permanence(flows: FlowSet, folder: Path) -> None:
    for old, successor in flows.replaced.items():
        if successor.state not in flows.states and successor.state not in flows.replaced:
            problem = f"{old!r} is replaced by the unknown state {successor.state!r}"
            raise FlowFileError(successor.file, successor.line, problem)
        if old in flows.states:
            raise FlowFileError(successor.file, successor.line, f"{old!r} is replaced and still there")
        _check_ends(old, flows)
    ledger = folder / KNOWN_STATES
    if not ledger.exists():
        return
    for line, known in enumerate(ledger.read_text(encoding="utf-8").split(), 1):
        if known not in flows.states and known not in flows.replaced:
            raise FlowFileError(
                KNOWN_STATES, line, f"the state {known!r} is gone and no successor is declared (replaced:)"
            )


def _check_ends(old: str, flows: FlowSet) -> None:
    seen, at = {old}, flows.replaced[old].state
    while at in flows.replaced:
        if at in seen:
            successor = flows.replaced[old]
            raise FlowFileError(successor.file, successor.line, f"the successors of {old!r} go in a circle")
        seen.add(at)
        at = flows.replaced[at].state


def _check_circles(flows: FlowSet) -> None:
    """States without a question that lead on to each other whatever holds would never wait."""
    for state in flows.states.values():
        seen, at = [], state
        while at.always and at.always[0].guard is None and at.always[0].to in flows.states:
            if at.id in seen:
                raise FlowFileError(at.file, at.line, f"the state {at.id!r} leads on to itself for ever")
            seen.append(at.id)
            at = flows.states[str(at.always[0].to)]


def _check_budget(message: Message) -> None:
    """Budgets in segments, with the longest values that a text can be given."""
    if message.never_texted:
        return
    for text in filter(None, (message.text, message.plural)):
        found = segments(at_its_longest(text, message.id))
        if found.count > message.budget:
            problem = f"{message.id!r} may take {found.count} segments, its budget is {message.budget}"
            raise FlowFileError(message.file, message.line, problem)
