"""A flow as a diagram, made from the states that conversations are advanced on: picture and rules cannot differ."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import PurePath

from guide_service.dialogue.flow import BACK, SAME, FlowSet, State, Transition


class NoSuchFlow(ValueError):
    """No flow file has this name; the text lists those that there are."""


def as_dot(flows: FlowSet, name: str) -> str:
    """The states of one flow file in the Graphviz language. States of other files that it leads to are dashed."""
    own = {id_: state for id_, state in flows.states.items() if flow_of(state) == name}
    if not own:
        known = sorted({flow_of(state) for state in flows.states.values()})
        raise NoSuchFlow(f"there is no flow {name!r}; there are: {', '.join(known)}")
    edges = [edge for state in own.values() for edge in _edges(state)]
    others = sorted({target for _, target, _ in edges} - own.keys())
    lines = [f"digraph {_quoted(name)} {{", "  rankdir=LR; node [shape=box, style=rounded];"]
    lines += [f"  {_quoted(id_)}{_look(state, flows)};" for id_, state in own.items()]
    lines += [f'  {_quoted(id_)} [style="rounded,dashed"];' for id_ in others]
    lines += [f"  {_quoted(source)} -> {_quoted(target)} [label={_quoted(label)}];" for source, target, label in edges]
    return "\n".join([*lines, "}"])


def flow_of(state: State) -> str:
    """The name of the file that a state stands in, without its ending."""
    return PurePath(state.file).stem


def _edges(state: State) -> Iterator[tuple[str, str, str]]:
    """(from, to, label) for every transition that leads somewhere else."""
    for label, transitions in _labelled(state):
        for transition in transitions:
            if transition.to and transition.to not in (BACK, SAME):
                yield state.id, transition.to, _label(label, transition)


def _labelled(state: State) -> Iterator[tuple[str, tuple[Transition, ...]]]:
    for answer in state.answers:
        yield answer.key, answer.transitions
    yield from state.on.items()
    yield "", state.always


def _label(event: str, transition: Transition) -> str:
    if transition.guard is None:
        return event
    guard = f"[{'not ' if transition.negated else ''}{transition.guard}]"
    return f"{event} {guard}".strip()


def _look(state: State, flows: FlowSet) -> str:
    if state.id == flows.initial:
        return " [penwidth=3]"
    return " [peripheries=2]" if state.final else ""


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
