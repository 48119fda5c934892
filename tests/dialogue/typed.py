"""What the machine was explored with, typed by people: the corpora's own messages, and numbers that need no language.

``way_of`` finds to an example of a transition a text of a language that, understood in that household's place and
against the question that is open there, takes the same transition.
"""

from __future__ import annotations

import re
import tomllib
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache

from guide_service.dialogue.events import Event, EventName, Expect
from guide_service.dialogue.flow import Transition
from guide_service.dialogue.machine import Decision, advance
from tests.dialogue.answers import said, situations
from tests.dialogue.everything_said import heard
from tests.dialogue.transitions import whenever_taken
from tests.dialogue.world import Household, larkwater

NUMBERS = (
    *("14", "7", "2", "0", "61", "1965", "1994", "17.0", "15.5", "14 13 12", "145", "72", "1", "1 3", "99"),
    *("K1 22 19 17", "K1 11 10 10 K2 11 10 10", "K1 14 13 12 11 10", "K1 13 12 12", "K1 145", "K1 22 19", "K1 >30"),
    *("K9 12", "S1 17", "K2 14", "K1 62 19 17", "K1 OL", "L4 12 11 11", "K1 l4 13 12", "14.5", "R1 9", "K1 65 19 17"),
    *("Millrace", "20C 70%", "95%", "5C 60%", "K1 18 62F"),
    *("482 919", "482919", "14 River St", "12 Weir St", "12 Weir", "7 Mill Rd", "7 mill rd K1 22 19 17"),
)
"""Understood alike in every language."""
TRIED = 250
"""Messages of one kind of event that are tried, the shortest first."""
NAMED_SO = {"METER": EventName.METER, "PLACES": EventName.PLACES, "NO CALLS": EventName.CALLS}
A_PICTURE = "(a picture)"
WITH_A_NUMBER = {
    EventName.BLOCK: ("15.5", "17", "3"),
    EventName.REMIND_AT: ("18:00", "23:00"),
    EventName.JOIN: ("482919",),
}
"""What follows the words of these in a text."""


@cache
def messages(language: str) -> dict[EventName, tuple[str, ...]]:
    """The messages of a language by what is understood of them where they stand in their corpus."""
    found: dict[EventName, set[str]] = defaultdict(set)
    names = sorted(path.stem for path in situations.DATA.glob("*.toml"))
    for name in (name for name in names if language in name.split("_")):
        for text, events in _understood(name):
            for event in events:
                found[event.name].add(text)
    return {name: tuple(sorted(texts, key=lambda text: (len(text), text))) for name, texts in found.items()}


def _understood(corpus: str) -> Iterator[tuple[str, Sequence[Event]]]:
    if corpus.startswith("said_"):
        for each in said.said_corpus(corpus.removeprefix("said_")):
            yield each.text, said.outcome(each).events
    else:
        for message in situations.corpus(corpus):
            yield message.text, situations.heard(message)


@cache
def more(language: str) -> tuple[str, ...]:
    table = tomllib.loads((situations.DATA / "more_typed.toml").read_text(encoding="utf-8"))
    return tuple(table[language])


@cache
def commands(language: str) -> dict[EventName, tuple[str, ...]]:
    """The short texts that mean an event wherever they stand, and each phrase of its table once, in its first words."""
    words = tomllib.loads((situations.ROOT / "locales" / language / "words.toml").read_text(encoding="utf-8"))
    found: dict[EventName, list[str]] = defaultdict(list)
    for key, table in words["events"].items():
        name = EventName(key.partition(".")[0])
        found[name] += table.get("whole", ())
        phrases = [_in_first_words(phrase) for phrase in table["phrases"] if "<" not in phrase]
        found[name] += [f"{p} {n}" for n in WITH_A_NUMBER[name] for p in phrases] if name in WITH_A_NUMBER else phrases
    for english, word in words.get("commands", {}).items():
        found[NAMED_SO.get(english, EventName.GREETING)].append(word)
    return {name: tuple(texts) for name, texts in found.items()}


def _in_first_words(phrase: str) -> str:
    needed = re.sub(r"\[[^]]*\]", " ", phrase).replace("~", " ")
    return " ".join(word.split("|")[0].replace("_", " ") for word in needed.split())


def candidates(language: str, household: Household, event: Event) -> Iterator[str]:
    """Texts that may mean ``event`` there, the likeliest first."""
    for offer in household.standing.asked.offers:
        if event.name is not EventName.CHOICE or offer.key == event.value:
            yield offer.number
            yield from offer.words
    if event.raw and event.raw != "so":
        yield event.raw
    yield from messages(language).get(event.name, ())[:TRIED]
    yield from commands(language).get(event.name, ())
    if event.name in (EventName.PICTURE, EventName.EMPTY):
        yield A_PICTURE if event.name is EventName.PICTURE else "  "
    yield from NUMBERS
    yield from more(language)


def hears(text: str, household: Household) -> Decision:
    """The turn of a text, as the service takes it."""
    events = (Event(EventName.PICTURE),) if text == A_PICTURE else heard(text, household)
    return advance(larkwater().flows, household.standing, events, household.facts)


def _speaking(language: str, household: Household) -> Household:
    unspoken = frozenset({language}) if household.facts.unspoken else frozenset[str]()
    return replace(household, facts=replace(household.facts, language=language, unspoken=unspoken))


def _asked(household: Household) -> Household:
    """With the question of its state put, where the example stands in the state without it."""
    if household.standing.asked.expect is not Expect.NOTHING or household.standing.state == larkwater().flows.initial:
        return household
    put = household.asked()
    return put if put.standing.state == household.standing.state else household


def way_of(
    transition: Transition, examples: Sequence[tuple[Household, Event]], language: str
) -> tuple[str, Decision] | None:
    """What is said in ``language`` by one of ``examples`` that takes ``transition``, and what is then decided."""
    taken: list[Transition] = []
    with whenever_taken(lambda _sheet, each: taken.append(each)):
        for household, event in examples:
            there = _speaking(language, household)
            for here in (_asked(there), there):
                for text in dict.fromkeys(candidates(language, here, event)):
                    taken.clear()
                    decision = hears(text, here)
                    if any(each is transition for each in taken):
                        return text, decision
    return None
