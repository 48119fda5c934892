"""From the YAML files to a ``FlowSet``: only reading. What is refused of the whole is in ``flow_checks``."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

from guide_service.dialogue.events import EventName, Expect
from guide_service.dialogue.flow import WILDCARD, Answer, FlowSet, State, Successor, Transition
from guide_service.dialogue.silence import WaitsFor
from guide_service.dialogue.strict_yaml import FlowFileError, Mapping, Sequence, Value, load_strict
from guide_service.wording.messages import load_messages

_TOP = {"flow", "note", "initial", "messages", "states", "anywhere", "replaced"}
_STATE = {"note", "ask", "lead", "expect", "answers", "offers", "on", "always", "enter", "waits_for", "final", "lapses"}
_TRANSITION = {"if", "do", "say", "tell", "to", "note"}
_ANSWER = {"key", "label", "note"} | _TRANSITION
_EVENTS = {str(name) for name in EventName} | {WILDCARD}


def load_flows(folder: Path, check: Callable[[FlowSet, Path], None] | None = None) -> FlowSet:
    """Read every ``*.yaml`` of a folder. Raises ``FlowFileError`` naming file and line for anything that is wrong."""
    if check is None:
        from guide_service.dialogue.flow_checks import check_flows

        check = check_flows
    messages = load_messages(folder)
    states: dict[str, State] = {}
    anywhere: dict[str, tuple[Transition, ...]] = {}
    replaced: dict[str, Successor] = {}
    initial = ""
    digest = hashlib.sha256()
    for path in sorted(folder.glob("*.yaml")):
        digest.update(path.read_bytes())
        top = load_strict(path)
        _known_keys(top, _TOP, "a flow file")
        if initial and "initial" in top:
            raise top.error("the initial state is named twice", "initial")
        initial = _text(top, "initial") or initial
        for id_, node in _mapping(top, "states").items():
            if id_ in states:
                raise _mapping(top, "states").error(f"the state {id_!r} stands twice (also {states[id_].file})", id_)
            states[id_] = _state(id_, _as_mapping(node, top, "states"), path.name)
        for event, transitions in _on(_mapping(top, "anywhere")).items():
            if event in anywhere:
                raise _mapping(top, "anywhere").error(f"{event} stands in two files", event)
            anywhere[event] = transitions
        gone = _mapping(top, "replaced")
        for old, successor in gone.items():
            if old in replaced:
                raise gone.error(f"{old!r} is replaced twice", old)
            replaced[old] = Successor(str(successor), path.name, gone.lines[old])
    if not initial:
        raise FlowFileError(folder.name, 1, "no flow file names the initial state (initial: ...)")
    flows = FlowSet(initial, states, anywhere, replaced, messages, digest.hexdigest()[:16])
    check(flows, folder)
    return flows


def _state(id_: str, node: Mapping, file: str) -> State:
    _known_keys(node, _STATE, f"the state {id_!r}")
    answers = tuple(_answer(item, node) for item in _sequence(node, "answers"))
    offers = _text(node, "offers")
    expect = _text(node, "expect") or ("choice" if answers or offers else "nothing")
    if expect not in {str(kind) for kind in Expect}:
        raise node.error(f"unknown kind of answer {expect!r}", "expect")
    waits_for = _text(node, "waits_for") or "answer"
    if waits_for not in {str(each) for each in WaitsFor}:
        raise node.error(f"nothing to wait for is called {waits_for!r}", "waits_for")
    enter = node.get("enter")
    return State(
        id=id_,
        file=file,
        line=node.line,
        ask=_message_id(node.get("ask"), node, "ask"),
        lead=_message_id(node.get("lead"), node, "lead"),
        expect=Expect(expect),
        answers=answers,
        offers=offers,
        on=_on(_mapping(node, "on")),
        always=_transitions(node["always"], node, "always") if "always" in node else (),
        enter=_entry(_as_mapping(enter, node, "enter")) if enter is not None else None,
        waits_for=WaitsFor(waits_for),
        final=_text(node, "final") == "true",
        lapses=_text(node, "lapses") == "true",
    )


def _entry(node: Mapping) -> Transition:
    for key in ("if", "to"):
        if key in node:
            raise node.error(f"enter says and does, it takes no {key!r}", key)
    return _transition(node)


def _answer(item: Value, parent: Mapping) -> Answer:
    node = _as_mapping(item, parent, "answers")
    _known_keys(node, _ANSWER, "an answer")
    label = _message_id(node.get("label"), node, "label")
    key = _text(node, "key")
    if not key or not label:
        raise node.error("an answer needs a key and a label")
    return Answer(key, label, (_transition(node, extra=frozenset({"key", "label"})),), node.line)


def _on(node: Mapping) -> dict[str, tuple[Transition, ...]]:
    table = {}
    for event, value in node.items():
        if event not in _EVENTS:
            raise node.error(f"unknown event {event!r}", event)
        table[event] = _transitions(value, node, event)
    return table


def _transitions(value: Value, parent: Mapping, key: str) -> tuple[Transition, ...]:
    if isinstance(value, str):
        return (Transition(line=parent.lines[key], to=value),)
    if isinstance(value, Mapping):
        return (_transition(value),)
    return tuple(_transition(_as_mapping(item, parent, key)) for item in value)


def _transition(node: Mapping, extra: frozenset[str] = frozenset()) -> Transition:
    _known_keys(node, _TRANSITION | extra, "a transition")
    guard = _text(node, "if")
    negated = bool(guard) and str(guard).startswith("not ")
    return Transition(
        line=node.line,
        guard=guard.removeprefix("not ") if guard else None,
        negated=negated,
        do=_names(node, "do"),
        say=tuple(_message_id(item, node, "say") or "" for item in _listed(node, "say")),
        tell=_names(node, "tell"),
        to=_text(node, "to"),
    )


def _message_id(value: Value | None, node: Mapping, key: str) -> str | None:
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, Mapping) and isinstance(value.get("id"), str):
        return str(value["id"])
    raise node.error("a message is an id, or a mapping with id and text", key)


def _listed(node: Mapping, key: str) -> list[Value]:
    value = node.get(key)
    if value is None:
        return []
    return list(value) if isinstance(value, Sequence) else [value]


def _names(node: Mapping, key: str) -> tuple[str, ...]:
    names = _listed(node, key)
    if not all(isinstance(name, str) for name in names):
        raise node.error(f"{key} takes names", key)
    return tuple(str(name) for name in names)


def _text(node: Mapping, key: str) -> str | None:
    value = node.get(key)
    if value is not None and not isinstance(value, str):
        raise node.error(f"{key} takes one word", key)
    return value


def _mapping(node: Mapping, key: str) -> Mapping:
    value = node.get(key)
    if value is None:
        return Mapping(node.file, node.line)
    return _as_mapping(value, node, key)


def _sequence(node: Mapping, key: str) -> list[Value]:
    value = node.get(key)
    if value is None:
        return []
    if not isinstance(value, Sequence):
        raise node.error(f"{key} takes a list", key)
    return list(value)


def _as_mapping(value: Value | None, parent: Mapping, key: str) -> Mapping:
    if not isinstance(value, Mapping):
        raise parent.error(f"{key} takes key: value pairs", key)
    return value


def _known_keys(node: Mapping, known: set[str], what: str) -> None:
    for key in node:
        if key not in known:
            raise node.error(f"{what} has no key {key!r}", key)
