"""The format of the flow files, in the terms of the W3C SCXML recommendation, and nothing but data.

    state       a place in the conversation; its id is permanent
    ask         the question that the state puts (a message); ``answers`` are the numbered answers offered with it
    lead        what is said before the question, once
    expect      what kind of answer it waits for, where that is not one of the offered ones
    on          transitions by event; ``*`` stands for any event without one of its own
    always      eventless transitions: the first whose guard holds is taken on entry (a state with it never waits)
    enter       what is said and done on entry
    waits_for   what a household that is silent here is most likely at (``silence.WaitsFor``); ``answer`` if not said
    final       the conversation rests here until the person opts in again
    lapses      what the question says may hold no more: ``always`` is looked at before it is put again

    A transition has  if (a guard, ``not`` before it negates), do (effects), say (messages), tell (composed texts) and
    to (a state, ``back``, ``same`` = put the question again; without ``to`` the state stays and is not asked again).
    What is told stands before what is said, but that a person looks at it comes last.
    Where several stand in a list, the first whose guard holds is taken.

``anywhere.yaml`` holds the transitions that hold in every state. Guards, effects and tellings are names of Python
functions (``guards``, ``deeds``, ``tellings``), never expressions.
"""

from __future__ import annotations

from collections.abc import Mapping as ReadMapping
from dataclasses import dataclass, field

from guide_service.dialogue.events import EventName, Expect
from guide_service.dialogue.silence import WaitsFor
from guide_service.wording.messages import Message

WILDCARD = "*"
SAFETY_EVENTS = (EventName.DANGER, EventName.STOP, EventName.START)
"""Handled by ``anywhere`` alone: no state may change what they do."""
COMMON_EXITS = (EventName.REPEAT, EventName.BACK, EventName.PERSON, EventName.LANGUAGE, EventName.STOP)
"""Offered in every state."""
BACK, SAME = "back", "same"


@dataclass(frozen=True, slots=True)
class Transition:
    line: int
    guard: str | None = None
    negated: bool = False
    do: tuple[str, ...] = ()
    say: tuple[str, ...] = ()
    tell: tuple[str, ...] = ()
    to: str | None = None

    @property
    def empty(self) -> bool:
        return not (self.do or self.say or self.tell or self.to)


@dataclass(frozen=True, slots=True)
class Answer:
    key: str
    label: str
    """Message id of the words that stand beside the number."""
    transitions: tuple[Transition, ...]
    line: int


@dataclass(frozen=True, slots=True)
class State:
    id: str
    file: str
    line: int
    ask: str | None = None
    lead: str | None = None
    """Said once before the question, the first time that it is put to somebody."""
    expect: Expect = Expect.NOTHING
    answers: tuple[Answer, ...] = ()
    offers: str | None = None
    """Name of the Python function that makes the offered answers (areas, walls, places)."""
    on: ReadMapping[str, tuple[Transition, ...]] = field(default_factory=dict)
    always: tuple[Transition, ...] = ()
    enter: Transition | None = None
    waits_for: WaitsFor = WaitsFor.ANSWER
    final: bool = False
    lapses: bool = False

    def transitions(self) -> tuple[Transition, ...]:
        """Every transition of the state, in the order of the file."""
        of_answers = tuple(t for answer in self.answers for t in answer.transitions)
        return of_answers + tuple(t for ts in self.on.values() for t in ts) + self.always


@dataclass(frozen=True, slots=True)
class Successor:
    """Where a conversation goes on whose state is gone."""

    state: str
    file: str
    line: int


@dataclass(frozen=True, slots=True)
class FlowSet:
    """All flows of a folder, checked."""

    initial: str
    states: ReadMapping[str, State]
    anywhere: ReadMapping[str, tuple[Transition, ...]]
    replaced: ReadMapping[str, Successor]
    """Successors of states that are gone."""
    messages: ReadMapping[str, Message]
    digest: str
    """Changes with any change of a flow file; stored with each conversation."""

    def resume(self, state: str) -> str:
        """The state in which a conversation stored in ``state`` goes on. Raises KeyError if it never existed."""
        while state not in self.states:
            state = self.replaced[state].state
        return state
