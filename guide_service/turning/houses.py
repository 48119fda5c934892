"""Which house a text is about: the one the phone spoke of last, one that it names, or one whose code it holds.

A code is looked up between look-up and decision, only for a text that is understood as joining, only while the phone
has tries left, and only where the check digit fits. It opens a house for some days after a resident was last told it:
a hundred thousand codes would be guessed too soon if all houses stood open always.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sqlalchemy import Connection

from guide_service.carrier.form import InboundText
from guide_service.dialogue import codes
from guide_service.dialogue.answers import understand
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.spelling import fold, plain_words
from guide_service.dialogue.effects import Effect
from guide_service.dialogue.effects_house import JoinHousehold, SpeakOf
from guide_service.dialogue.events import Asked, Event, EventName, Listening, PlaceNamed, ReadingsHeard, Unclear
from guide_service.dialogue.guards_house import MOST_CODES_A_DAY
from guide_service.dialogue.house_facts import CodeHeard
from guide_service.records.houses import household_of_code, houses_of, places_of_houses
from guide_service.records.loading import Known, load_of_both
from guide_service.turning.knowing import facts_of, listening_of, standing_of
from guide_service.turning.naming import house_name
from guide_service.wiring import Service

HEADING = re.compile(r"\s*([^:\n]{3,40}):\s*\S")
OF_READINGS = frozenset({EventName.READINGS, EventName.UNCLEAR})
UNKNOWN = frozenset({EventName.NOT_UNDERSTOOD, EventName.NAME, EventName.NUMBER, EventName.COUNT, EventName.UNCLEAR})
SHORTEST_STREET = 4
"""Letters of a word of an address that names a house by itself."""
SHORTEST_HEADING = 3
"""Letters of a word that may be a street before a colon ("dam rd: K1 22")."""
STILL_THERE = dt.timedelta(minutes=30)
"""After longer than this without a word a phone of several houses may stand in another one. Our choice."""
NUMBERS = "numbers"
"""Value of the event ``house``: readings came, and it is not certain of which house."""


@dataclass(frozen=True, slots=True)
class Meant:
    known: Known | None
    """The phone with the house that the text is about."""
    before: Known | None
    """The phone with the house it spoke of, should it not join after all."""
    body: str
    """The text without the name of the house."""
    code: CodeHeard = CodeHeard.SLIP
    houses: tuple[tuple[str, str], ...] = ()
    named: str | None = None
    """The house that the text names."""
    places: Mapping[str, frozenset[str]] = field(default_factory=dict)
    """By house: labels and wall names of its places, folded. Only for a phone of several houses."""

    def switch(self) -> tuple[Effect, ...]:
        """The house that was named, or whose code came again, is the one that is spoken of from now on."""
        if self.known is None or self.before is None or self.known.joining:
            return ()
        house = self.known.who.household_id
        return () if house == self.before.who.household_id else (SpeakOf(house),)

    def kept_under(self, effects: Sequence[Effect]) -> Known | None:
        """Where the turn is stored: nobody's text goes into a file that it did not join."""
        joined = any(isinstance(effect, JoinHousehold) for effect in effects)
        return self.known if joined or self.known is None or not self.known.joining else self.before


def house_meant(connection: Connection, service: Service, inbound: InboundText, known: Known | None) -> Meant:
    houses = _houses(connection, service, known)
    call = inbound.call
    if call is not None and call.household is not None and known is not None:
        shown = known if known.who.household_id == call.household else None
        return Meant(shown or load_of_both(connection, known.who.contact_id, call.household), known, inbound.body)
    if codes.read_digits(inbound.body) is not None:
        found = _of_code(connection, service, inbound.body, known, call.said if call else None)
        if found is not None:
            return Meant(found[1] or known, known, inbound.body, found[0], houses)
    if known is None or len(houses) < 2:
        return Meant(known, known, inbound.body, houses=houses)
    named, rest = _named(inbound.body, houses)
    places = _places(connection, known) if named is None else {}
    if named is None or named == str(known.who.household_id):
        return Meant(known, known, rest, houses=houses, named=named, places=places)
    other = load_of_both(connection, known.who.contact_id, int(named))
    return Meant(other, known, rest, houses=houses, named=named)


def _places(connection: Connection, known: Known) -> Mapping[str, frozenset[str]]:
    found: dict[str, set[str]] = {}
    for row in places_of_houses(connection, known.who.contact_id):
        found.setdefault(str(row.household_id), set()).update((fold(row.label), fold(row.name)))
    return {house: frozenset(words) for house, words in found.items()}


def _of_code(
    connection: Connection, service: Service, body: str, known: Known | None, said: Event | None
) -> tuple[CodeHeard, Known | None] | None:
    """What the code of the text is, and the phone with its house; None where the text is not about a code."""
    facts = facts_of(service, known, service.clock.now())
    listening = listening_of(facts, standing_of(known, service.flows.initial, service.clock.now()))
    heard = (said,) if said is not None else understand(body, listening, service.lexicons)
    event = next((e for e in heard if e.name == EventName.JOIN), None)
    if event is None:
        return None
    code = codes.read_digits(str(event.value or ""))
    if code is None or not codes.is_code(code):
        return CodeHeard.SLIP, None
    if facts.house.tries >= MOST_CODES_A_DAY:
        return CodeHeard.NONE, None
    row = household_of_code(connection, service.sealer.code_keys(code))
    return _house_of(connection, service, row, known) if row is not None else (CodeHeard.NONE, None)


def _house_of(
    connection: Connection, service: Service, row: Any, known: Known | None
) -> tuple[CodeHeard, Known | None]:
    contact_id = known.who.contact_id if known else None
    other = load_of_both(connection, contact_id, row.id)
    if other.who.membership_id is not None:
        return CodeHeard.HERE, other
    days = dt.timedelta(days=service.county.identity.code_open_days)
    if row.code_told_at is None or service.clock.now() - row.code_told_at > days:
        return CodeHeard.NONE, None
    return CodeHeard.JOINS, Known(
        other.who, other.places, other.visits, other.readings, other.escalations, joining=True, came_from=known
    )


def _houses(connection: Connection, service: Service, known: Known | None) -> tuple[tuple[str, str], ...]:
    if known is None or known.who.houses < 2:
        return ()
    return tuple((str(row.id), house_name(service, row)) for row in houses_of(connection, known.who.contact_id))


def _named(body: str, houses: Sequence[tuple[str, str]]) -> tuple[str | None, str]:
    """The one house whose street the text begins with ("weir st: K1 22 19 17", "14 weir"), and what follows it."""
    words = plain_words(body)
    found = {house: length for house, name in houses if (length := _begins_with(words, plain_words(name)))}
    longest = max(found.values(), default=0)
    best = [house for house, length in found.items() if length == longest]
    return (best[0], _without(body, longest)) if len(best) == 1 else (None, body)


def asked_of_house(
    meant: Meant, events: Sequence[Event], listening: Listening, lexicons: Mapping[str, Lexicon], now: dt.datetime
) -> Event | None:
    """The event instead of ``events``, where the text only names a house, or where it must be asked which is meant."""
    if meant.named is not None:
        return None if meant.body.strip() else Event(EventName.HOUSE, meant.named)
    if names_no_house(meant.body, events, listening, lexicons) or may_be_another_house(meant, events, now):
        return Event(EventName.HOUSE, NUMBERS)
    return None


def may_be_another_house(meant: Meant, events: Sequence[Event], now: dt.datetime) -> bool:
    """Readings that name no house, of a phone that was silent since, or of a place that only another house has."""
    if meant.known is None or meant.known.joining:
        return False
    places = [place for event in events for place in _places_heard(event.value)]
    if not places:
        return False
    words = {fold(place.label or place.words) for place in places if place is not None}
    here = str(meant.known.who.household_id)
    elsewhere = any(words <= there for house, there in meant.places.items() if house != here)
    if words and not words <= meant.places.get(here, frozenset()) and elsewhere:
        return True
    talked_at = meant.known.who.talked_at
    return talked_at is None or now - talked_at > STILL_THERE


def _places_heard(value: object) -> list[PlaceNamed | None]:
    """The place of each number of wood that was heard, certain or not; None where none was named."""
    if isinstance(value, ReadingsHeard):
        waiting = [place for unclear in value.unclear for place in _places_heard(unclear)]
        return [*(item.place for item in value.items), *waiting]
    if isinstance(value, Unclear) and value.items:
        return [value.place]
    return []


def names_no_house(body: str, events: Sequence[Event], listening: Listening, lexicons: Mapping[str, Lexicon]) -> bool:
    """Readings under a heading that is none of this phone's houses and nothing else that is known ("mill rd: K1 22").

    They may be of a house that has not been joined: it is asked, not taken for the house that was spoken of last.
    """
    heading = HEADING.match(body)
    if heading is None or all(event.name not in OF_READINGS for event in events):
        return False
    if not any(word.isalpha() and len(word) >= SHORTEST_HEADING for word in plain_words(heading[1])):
        return False
    unasked = replace(listening, asked=Asked())  # a heading answers no question, whatever its words
    alone = {event.name for event in understand(heading[1], unasked, lexicons)}
    with_number = understand(f"{heading[1]} 20", unasked, lexicons)
    return alone <= UNKNOWN and not any(map(_names_a_place, with_number))


def _names_a_place(event: Event) -> bool:
    """Readings, or such as are only asked about: of which of the places of a room."""
    return event.name == EventName.READINGS or (isinstance(event.value, Unclear) and bool(event.value.labels))


def _begins_with(words: tuple[str, ...], name: tuple[str, ...]) -> int:
    """How many words of the text name the house: with its number or without, from one telling word on."""
    for start in {0, next((n for n, word in enumerate(name) if word.isalpha()), 0)}:
        same = 0
        for said, meant in zip(words, name[start:], strict=False):
            if said != meant:
                break
            same += 1
        whole = same == len(name) - start > 1  # "elm st"
        if whole or any(word.isalpha() and len(word) >= SHORTEST_STREET for word in words[:same]):
            return same
    return 0


def _without(body: str, words: int) -> str:
    rest = body
    for word in plain_words(body)[:words]:
        at = fold(rest).find(word)
        rest = rest[at + len(word) :] if at >= 0 else rest
    return rest.lstrip(" .,:;-")
