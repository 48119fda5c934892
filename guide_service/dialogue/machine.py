"""The machine: a conversation, an event and the facts in; the next state, what is said and the effects out.

Theory of operation. ``advance`` takes the events of one text in order. Each is looked up in the table of the state it
is met in, then in ``anywhere``, then under the wildcard; the first transition whose guard holds is taken. What it says
is collected; the question of the state in which the last event ends is put once, at the end. An event that no table
knows is a ``FlowError`` and nothing changes: the loader has made sure that it cannot happen.

Exceptions to the table, all of them: danger, stop and start are looked up in ``anywhere`` first; ``back`` and ``same``
are not states; a choice is looked up among the offered answers before the state's ``on: choice``, and counts only where
it was offered; "not sure" that was not offered is the event ``unsure``; a question to a phone that was not introduced
waits until it is (``introduce_first``); a phone that must prove whose household it is
hears nothing of the file: all but danger, stop, start, a person and what no phone sends is met in ``file.gate``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from guide_service.dialogue.context import CAME_BACK, Context, introduced
from guide_service.dialogue.deeds import DEEDS
from guide_service.dialogue.deeds_house import PASSING, begin_proof
from guide_service.dialogue.deeds_reaching import NO_CALLS
from guide_service.dialogue.effects import Effect
from guide_service.dialogue.events import Asked, Event, EventName, Expect, Offer
from guide_service.dialogue.facts import Facts
from guide_service.dialogue.flow import BACK, SAFETY_EVENTS, SAME, WILDCARD, FlowSet, State, Transition
from guide_service.dialogue.guards import GUARDS
from guide_service.dialogue.guards_house import must_prove
from guide_service.dialogue.offers import OFFERS
from guide_service.dialogue.saying import Say
from guide_service.dialogue.tellings import TELLINGS
from guide_service.dialogue.values import values_for
from guide_service.wording.gsm import GSM_SET

TRAIL_LENGTH = 8
NOT_COUNTED = frozenset({EventName.NOT_UNDERSTOOD, EventName.UNCLEAR, EventName.EMPTY})
"""Events that do not show that we understand each other again."""
PLEASANTRIES = frozenset({EventName.GREETING, EventName.THANKS, EventName.HELP})
UNANSWERED = frozenset(
    {
        EventName.AUTOMATIC,
        EventName.CHECK_DUE,
        EventName.NUDGE_DUE,
        EventName.SILENT,
        EventName.SILENCE_DUE,
        EventName.LOOK_BACK,
        EventName.CONFIRM_DUE,
    }
)
"""Events after which saying nothing is an answer; after any other something is said."""
TOLD_LAST = frozenset({"when_person"})
"""Tellings behind what the transition says: first why a person looks at it, then that one will."""
NOTHING_ELSE = "home.noted"
INTRODUCTION, TO_WHO_JOINS = "welcome.language", "joining.language"
"""Who joins a house that we know is not asked where it is: the answer would be another house's."""
OTHER_LANGUAGES = "welcome.languages"
"""After the introduction, to somebody whose first text told the language."""
KNOWN_OR_NEW = ("welcome.", "joining.", "file.", "reaching.first")
"""States that may put their question to a phone that was not introduced: they do it, or prove who it is."""
GATE, PROVING = "file.gate", "file."
UNGATED = frozenset({*SAFETY_EVENTS, EventName.PERSON, EventName.HANDED_BACK, *UNANSWERED})
MAX_STEPS = 24
"""Eventless transitions taken in a row: more is a loop in the flows."""


class FlowError(Exception):
    """The flows have no way on: a mistake of a flow file, named with state and event."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a conversation stands: what is stored of it."""

    state: str
    slots: Mapping[str, object] = field(default_factory=dict)
    asked: Asked = field(default_factory=Asked)


@dataclass(frozen=True, slots=True)
class Decision:
    standing: Standing
    says: tuple[Say, ...]
    effects: tuple[Effect, ...]


def advance(flows: FlowSet, standing: Standing, events: Sequence[Event], facts: Facts) -> Decision:
    """Take the events in order. Pure and deterministic; raises ``FlowError`` only for a mistake in the flows."""
    sheet = Context.of(facts, dict(standing.slots), standing.asked, flows.messages, events)
    walk = _Walk(flows, sheet, flows.states[flows.resume(standing.state)], introduced(sheet))
    for event in _worth_answering(events):
        sheet.event = event
        walk.take(event)
    if walk.ask:
        sheet.asked = walk.put_question()
    if not sheet.says and not walk.state.final and any(event.name not in UNANSWERED for event in events):
        walk.say(NOTHING_ELSE)
    for passing in ("told_now", "next_check_told", "state", "ended", "block_now", "danger_now", CAME_BACK, *PASSING):
        sheet.slots.pop(passing, None)
    return Decision(Standing(walk.state.id, sheet.slots, sheet.asked), tuple(sheet.says), tuple(sheet.effects))


@dataclass(slots=True)
class _Walk:
    flows: FlowSet
    sheet: Context
    state: State
    introduced: bool = True
    """Before this turn."""
    ask: bool = False

    def take(self, event: Event) -> None:
        self.sheet.slots["state"] = self.state.id
        if not _ungated(event) and not self.state.id.startswith(PROVING) and must_prove(self.sheet):
            self.ask_for_proof()
        transition = self.find(event)
        if event.name not in NOT_COUNTED:
            self.sheet.slots.pop("misses", None)
        self.carry_out(transition)
        if self.moved_on(transition):
            self.ask = True
            self.enter(self.state.id, keep_trail=True)
        else:
            self.go(transition.to)

    def ask_for_proof(self) -> None:
        begin_proof(self.sheet, "silence")
        self.sheet.slots["gated_now"] = True
        self.ask = True
        self.enter(GATE, keep_trail=True)

    def find(self, event: Event) -> Transition:
        for candidates in self.tables(event):
            for transition in candidates:
                if self.allowed(transition):
                    return transition
        raise FlowError(
            f"{self.state.file}:{self.state.line}: state {self.state.id!r} has no way on for {event.name!r}"
        )

    def tables(self, event: Event) -> list[tuple[Transition, ...]]:
        anywhere = self.flows.anywhere
        if event.name in SAFETY_EVENTS:
            return [anywhere.get(event.name, ())]
        if event.name == EventName.CHOICE and event.value == "unsure" and not self.offered("unsure"):
            event = Event(EventName.UNSURE, None, event.raw)
        if event.name == EventName.CHOICE and self.state.offers and not self.offered(str(event.value)):
            event = Event(EventName.NOT_UNDERSTOOD, None, event.raw)
        own = [answer.transitions for answer in self.state.answers if _chosen(event, answer.key)]
        return [
            *own,
            self.state.on.get(event.name, ()),
            self.state.on.get(WILDCARD, ()),
            anywhere.get(event.name, ()),
            anywhere.get(WILDCARD, ()),
        ]

    def offered(self, key: str) -> bool:
        """Whether the person was offered it here: among the state's answers, or as sent with its question."""
        sent = self.state.offers and any(offer.key == key for offer in self.sheet.asked.offers)
        return bool(sent) or any(answer.key == key for answer in self.state.answers)

    def allowed(self, transition: Transition) -> bool:
        return transition.guard is None or GUARDS[transition.guard](self.sheet) != transition.negated

    def carry_out(self, transition: Transition) -> None:
        for deed in transition.do:
            DEEDS[deed](self.sheet)
        self.tell(name for name in transition.tell if name not in TOLD_LAST)
        for message in transition.say:
            self.say(message)
        self.tell(name for name in transition.tell if name in TOLD_LAST)

    def tell(self, names: Iterable[str]) -> None:
        for name in names:
            for said in TELLINGS[name](self.sheet):
                self.add(said)

    def say(self, message: str, own_text: bool = False) -> None:
        self.add(Say(message, values_for(self.flows.messages[message], self.sheet), own_text=own_text))

    def add(self, say: Say) -> None:
        """Nothing is said twice in one answer, whatever led to it."""
        if say not in self.sheet.says:
            self.sheet.says.append(say)

    def moved_on(self, transition: Transition) -> bool:
        """A question that says what may have lapsed meanwhile is not put again without a look."""
        return transition.to == SAME and self.state.lapses and any(map(self.allowed, self.state.always))

    def go(self, to: str | None) -> None:
        if to is None:
            return
        self.ask = True
        if to == SAME:
            return
        target = self.go_back() if to == BACK else to
        self.enter(target, keep_trail=to == BACK)

    def go_back(self) -> str:
        trail = self.sheet.slots.get("trail")
        if isinstance(trail, list) and trail:
            self.sheet.slots[CAME_BACK] = back_to = self.flows.resume(str(trail.pop()))
            return back_to
        return self.state.id

    def enter(self, target: str, *, keep_trail: bool) -> None:
        if not keep_trail:
            self.remember(self.state)
        for _ in range(MAX_STEPS):
            self.state = self.flows.states[target]
            if self.state.enter:
                self.carry_out(self.state.enter)
            onward = next((t for t in self.state.always if self.allowed(t)), None)
            if onward is None:
                self.introduce_first()
                return
            self.carry_out(onward)
            if onward.to is None or onward.to == SAME:
                return
            target = self.go_back() if onward.to == BACK else onward.to
        raise FlowError(f"{self.state.file}:{self.state.line}: state {self.state.id!r} goes in circles")

    def introduce_first(self) -> None:
        """Nothing is asked of anybody who was not told who we are: what was on the way is come back to after that."""
        if self.state.ask is None or self.state.id.startswith(KNOWN_OR_NEW) or self.introduced:
            return
        self.sheet.slots["after_welcome"] = self.state.id
        joins = str(self.sheet.slots.get("state")).startswith("joining.")
        self.enter(TO_WHO_JOINS if joins else INTRODUCTION, keep_trail=True)

    def remember(self, left: State) -> None:
        """The trail holds the states that put a question, so that "back" goes to the last question."""
        if left.ask is None or left.final:
            return
        trail = self.sheet.slots.setdefault("trail", [])
        if isinstance(trail, list) and (not trail or trail[-1] != left.id):
            trail.append(left.id)
            del trail[:-TRAIL_LENGTH]

    def put_question(self) -> Asked:
        """Say the state's question with its numbered answers, and keep them as sent."""
        asked = Asked(self.state.expect)
        if self.state.expect == Expect.READINGS:
            wanted = self.sheet.next_points()
            if wanted:
                asked = Asked(self.state.expect, place=wanted[0], points=wanted[1])
        self.sheet.asked = asked
        if self.state.lead:
            self.lead(self.state.lead)
        labels = self.labels()
        if self.state.ask:
            self.say(self.state.ask, own_text=self.state.offers == "languages" and _any_wide(labels))
        for number, (_key, label) in enumerate(labels, 1):
            self.sheet.says.append(Say("offer", {"number": number, "label": label}))
        offers = tuple(Offer(str(n), key, (_words(label),)) for n, (key, label) in enumerate(labels, 1))
        return Asked(asked.expect, offers, asked.place, asked.points, question=self.state.ask or "")

    def lead(self, message: str) -> None:
        said = self.sheet.slots.setdefault("led", [])
        if isinstance(said, list) and message not in said:
            said.append(message)
            self.say(message)
        if self.sheet.slots.pop("language_guessed", None) is True and len(self.sheet.facts.county.languages) > 1:
            self.say(OTHER_LANGUAGES)

    def labels(self) -> list[tuple[str, Say | str]]:
        made = OFFERS[self.state.offers](self.sheet) if self.state.offers else ()
        fixed: list[tuple[str, Say | str]] = [
            (answer.key, Say(answer.label, values_for(self.flows.messages[answer.label], self.sheet)))
            for answer in self.state.answers
        ]
        return [*made, *fixed]


def _worth_answering(events: Sequence[Event]) -> Sequence[Event]:
    """A greeting, thanks or "what do I do" beside something to answer needs no answer of its own."""
    rest = [event for event in events if event.name not in PLEASANTRIES]
    return rest or events[:1]


def _ungated(event: Event) -> bool:
    """What is heard from a phone that has not proved itself; whoever wants no calls gets none."""
    return event.name in UNGATED or (event.name is EventName.CALLS and event.value == NO_CALLS)


def _chosen(event: Event, key: str) -> bool:
    return event.name == EventName.CHOICE and event.value == key


def _any_wide(labels: Sequence[tuple[str, Say | str]]) -> bool:
    """Whether one of the names would halve the room of a text that it shares: then the question stands alone."""
    return any(isinstance(label, str) and not set(label) <= GSM_SET for _, label in labels)


def _words(label: Say | str) -> str:
    """A label until it is rendered: its message id, or the words that a person or the county gave."""
    return label if isinstance(label, str) else label.id
