"""One text against the open question: which events it is, in the order in which they must be handled.

Order of precedence: danger, opt-out and opt-in in every shipped language; answers of machines; the open question's
answers; readings; commands; questions in free words; the person's own words where a name is asked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from guide_service.dialogue.answers import facts as say
from guide_service.dialogue.answers.air import read_air
from guide_service.dialogue.answers.bare_corrections import bare_correction
from guide_service.dialogue.answers.bare_readings import bare_readings
from guide_service.dialogue.answers.hearing import Heard, hear
from guide_service.dialogue.answers.lexemes import Lexeme
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.offered import day_instead, typed_out
from guide_service.dialogue.answers.questions import (
    OK,
    STATED,
    YES,
    answer,
    bare_year,
    says_ok,
    setting_told,
    yes_no,
)
from guide_service.dialogue.answers.readings import lexemes_of, read_readings
from guide_service.dialogue.answers.rooms_with_bays import rooms_with_bays
from guide_service.dialogue.answers.said_of_places import Outcome
from guide_service.dialogue.answers.settling import LEAST_PLAUSIBLE
from guide_service.dialogue.answers.spelling import BREAK
from guide_service.dialogue.answers.told_beside import (
    ADDRESS,
    SHORT_ANSWER,
    WANTS_NUMBERS,
    cannot_prove,
    put_together,
    tells,
)
from guide_service.dialogue.answers.written_language import known_best, other_than, rooms_in, written_in
from guide_service.dialogue.events import (
    SETTING,
    Event,
    EventName,
    Expect,
    Listening,
    Unclear,
    WhyUnclear,
)

_TAKES_A_YEAR = WANTS_NUMBERS - {Expect.CHOICE} | {Expect.READINGS}
_READ_BACK = frozenset({"check.sure", "check.far"})
"""Questions that read a number back: another number is what was meant."""
_WOUND = "cut"
"""The topic of a nail in the foot and the like."""
_NO_SUGGESTION = frozenset({WhyUnclear.TOO_HIGH, WhyUnclear.NEGATIVE, WhyUnclear.MANY_NUMBERS})
"""Numbers of a place that are so unclear that none is suggested."""
PERSON_KEY = "0"
"""Text or key that reaches a person, whatever was asked."""


def understand(text: str, listening: Listening, lexicons: Mapping[str, Lexicon]) -> tuple[Event, ...]:
    """The events of ``text``, at least one, in the order in which they must be handled.

    Pure; never raises for any string. A number that was not understood with certainty is in no reading: it is an
    ``UNCLEAR`` event or in ``ReadingsHeard.unclear``.
    """
    lexicon = lexicons.get(listening.language) or next(iter(lexicons.values()))
    heard = hear(text, lexicon)
    if not heard.tokens or not text.strip():
        return (Event(EventName.EMPTY, None, text.strip()),)
    if say.is_automatic_quote(heard):
        return (Event(EventName.AUTOMATIC, None, text.strip()),)
    urgent = _urgent(heard, listening, lexicon)
    if urgent and urgent[-1].name is not EventName.DANGER:
        return say.in_order(urgent)
    events = urgent + _no_mere_thanks(_events(heard, listening, lexicon), heard)
    language, guessed = say.language_named(heard, lexicon), None
    if language is None and listening.first_contact:
        language = say.language_of_danger(heard, lexicon)
    if language is None:
        language = guessed = written_in(heard, events, listening, lexicons)
    if language is None and listening.first_contact and not events:
        known = other_than(known_best(text, lexicon, lexicons), lexicon)
        language = guessed = known or rooms_in(text, listening, lexicons)
    named_at_most = all(event.name is EventName.NAME for event in events)
    if named_at_most and language is None and say.names_own_language(heard, lexicon):
        events = [Event(EventName.LANGUAGE, lexicon.language, text.strip())]
    if language is not None:
        events = _in_language(text, language, events, listening, lexicons)
        if guessed is None:
            events = [event for event in events if not _is_no_address(event, listening)]
        if guessed is not None and not listening.first_contact and len(events) == 1:
            events.append(Event(EventName.NOT_UNDERSTOOD, None, text.strip()))  # nothing is lost by the change
    return say.in_order(events) or (Event(EventName.NOT_UNDERSTOOD, None, text.strip()),)


def _urgent(heard: Heard, listening: Listening, lexicon: Lexicon) -> list[Event]:
    events = say.dangers(heard)
    if not events and (listening.fumes or say.names_what_burns(heard)):
        ill = say.unwell(heard, lexicon)
        events = [] if ill is None else [ill]
    stop = say.wants_stop(heard)
    if stop is not None:
        return [*events, stop]
    if listening.opted_out:
        start = say.wants_start(heard)
        if start is not None or yes_no(heard, affirmed=True) == YES:
            return [*events, start or Event(EventName.START, None, heard.text.strip())]
    return events


def _events(heard: Heard, listening: Listening, lexicon: Lexicon) -> list[Event]:
    if [word for word in heard.words if word != BREAK] == [PERSON_KEY]:
        return [Event(EventName.PERSON, None, heard.text.strip())]
    chosen = typed_out(heard, listening.asked)
    if chosen is not None:
        return [chosen]
    lexemes = lexemes_of(heard, listening, lexicon)
    names_a_place = any(lexeme.kind == "place" for lexeme in lexemes)
    corrected = None if names_a_place else bare_correction(heard, listening, lexicon)
    if corrected is not None:
        return [corrected]
    rooms = None if listening.asked.expect is Expect.READINGS else rooms_with_bays(heard, lexemes)
    if rooms is not None and not (listening.asked.expect is Expect.COUNT and len(rooms.rooms) == 1):
        return [Event(EventName.PLACES, rooms, heard.text.strip())]
    outcome = read_readings(heard, lexemes, listening, lexicon)
    if _is_address(lexemes):
        outcome = Outcome()
    instead = _instead_of_read_back(outcome, heard, listening)
    if instead is not None:
        return [instead]
    air = None if _named_place(outcome) else read_air(heard, lexicon)
    if air is not None:
        return [Event(EventName.AIR, air, heard.text.strip())]
    readings = _reading_events(outcome, heard, listening)
    answered = None
    if not _named_place(outcome) and not _unclear_of_place(outcome):
        answered = answer(heard, lexemes, listening, lexicon)
        if answered is not None and listening.asked.expect in WANTS_NUMBERS:
            readings = []
    if readings and answered is not None and answered.name is EventName.CHOICE:
        answered = None
    said = say.facts(heard, lexicon, outcome.spans if readings else (), listening)
    moves = [event for event in said if event.name is EventName.DATE]
    said = [event for event in said if event.name is not EventName.DATE]
    if readings and _asks_of_a_number(said, heard, outcome):
        readings = []
    if tells(said, EventName.TOPIC, _WOUND):
        readings = readings if _has_digits(heard) else []
        answered = None if answered is not None and _is_by_its_words(answered, heard) else answered
    events = put_together(readings, answered, said, heard, listening, lexicon)
    if moves or not events or events[0].name is EventName.LATER:
        day = day_instead(heard, listening, lexicon, wanted=bool(moves), later=bool(events))
        events = [day] if day is not None else events or [replace(move, name=EventName.LATER) for move in moves]
    if not events or all(event.name is EventName.UNCLEAR for event in events):
        bare = bare_readings(heard, listening, lexicon)
        events = [Event(EventName.READINGS, bare, heard.text.strip())] if bare is not None else events
    if not events or all(event.name is EventName.UNCLEAR for event in events):
        events = _said_late(heard, lexemes, listening, lexicon) or events
    if not events and listening.asked.expect is Expect.READINGS and len(outcome.loose) == 1:
        return [_ask(WhyUnclear.NOT_A_READING, heard.text.strip(), outcome.loose[0].value)]
    return events


def _said_late(heard: Heard, lexemes: Sequence[Lexeme], listening: Listening, lexicon: Lexicon) -> list[Event]:
    """An answer to a question that is over: the year of the house, how the meter was set."""
    raw = heard.text.strip()
    year = None if listening.asked.expect in _TAKES_A_YEAR else bare_year(heard, lexemes, listening.today.year)
    if year is not None:
        return [Event(EventName.NUMBER, year, raw)]
    if listening.places and listening.asked.expect is not Expect.NAME and setting_told(heard, lexicon):
        return [Event(EventName.CHECK, SETTING, raw)]
    return []


def _is_no_address(event: Event, listening: Listening) -> bool:
    """ "Can we speak English?" in answer to the question for the address is no address, and proves no house."""
    if event.name is not EventName.NAME:
        return False
    no_street = listening.asked.question == ADDRESS and not event.street
    return no_street or cannot_prove(event.raw, listening)


def _no_mere_thanks(events: list[Event], heard: Heard) -> list[Event]:
    """ "Ok?" asks how it stands: "glad to help" would be taken as a yes. "Ok" thanks nobody."""
    if len(events) != 1 or events[0].name is not EventName.THANKS:
        return events
    if heard.folded.rstrip().endswith("?"):
        return [replace(events[0], name=EventName.STATUS)]
    return [replace(events[0], value=OK)] if says_ok(heard) else events


def _is_address(lexemes: Sequence[Lexeme]) -> bool:
    """ "Calle 4 numero 22": the numbers are of a house, unless one of its places is named too."""
    kinds = {lexeme.kind for lexeme in lexemes}
    return "address" in kinds and "place" not in kinds


def _instead_of_read_back(outcome: Outcome, heard: Heard, listening: Listening) -> Event | None:
    """ "27", "no, 27" to "is that 72 for K1?": the number that was meant."""
    if listening.asked.question not in _READ_BACK or outcome.anything or len(outcome.loose) != 1:
        return None
    value = outcome.loose[0].value
    offered = {offer.number for offer in listening.asked.offers}
    if value is None or heard.size > SHORT_ANSWER or f"{value:g}" in offered:
        return None
    return Event(EventName.NUMBER, value, heard.text.strip())


def _asks_of_a_number(said: list[Event], heard: Heard, outcome: Outcome) -> bool:
    """ "22 is that bad?": what a number means, and no reading, where no place is named."""
    named = any(item.place is not None and item.place.words.lower() in heard.folded for item in outcome.items)
    asks = any((event.name, event.value) == (EventName.TOPIC, "what_number") for event in said)
    return asks and not named and heard.asks


def _is_by_its_words(answered: Event, heard: Heard) -> bool:
    """ "Got a cut on my finger": no wall was cut, and no one bay counted."""
    return answered.value in STATED or (answered.name is not EventName.CHOICE and not _has_digits(heard))


def _has_digits(heard: Heard) -> bool:
    return any(token.text[0].isdigit() for token in heard.tokens)


def _named_place(outcome: Outcome) -> bool:
    return any(item.place is not None and item.place.words != "" for item in outcome.items)


def _unclear_of_place(outcome: Outcome) -> bool:
    """ "K2 145" to "which place reads 22?" is a number of its own, which is asked, and no answer; "2 K2" is one."""
    return any(
        unclear.place is not None
        and unclear.place.words
        and (unclear.why in _NO_SUGGESTION or (unclear.suggestion or 0) >= LEAST_PLAUSIBLE)
        for unclear in outcome.unclear
    )


def _reading_events(outcome: Outcome, heard: Heard, listening: Listening) -> list[Event]:
    raw = heard.text.strip()
    if outcome.items:
        if _is_lonely_number(outcome, listening):
            return [_ask(WhyUnclear.NOT_A_READING, raw, outcome.items[0].value)]
        name = EventName.CORRECTION if outcome.corrects else EventName.READINGS
        return [Event(name, outcome.heard(), raw)]
    if sum(bool(unclear.items) for unclear in outcome.unclear) > 1:
        return [Event(EventName.READINGS, outcome.heard(), raw)]  # numbers whose places are asked, all together
    if outcome.unclear:
        return [Event(EventName.UNCLEAR, unclear, raw) for unclear in outcome.unclear]
    return []


def _is_lonely_number(outcome: Outcome, listening: Listening) -> bool:
    """One bare number that nobody asked for."""
    first = outcome.items[0]
    asked = listening.asked.expect is Expect.READINGS
    return len(outcome.items) == 1 and first.place is None and first.point is None and not asked and not outcome.marked


def _ask(why: WhyUnclear, raw: str, suggestion: float | None) -> Event:
    return Event(EventName.UNCLEAR, Unclear(why, raw, suggestion=suggestion), raw)


def _in_language(
    text: str, language: str, events: list[Event], listening: Listening, lexicons: Mapping[str, Lexicon]
) -> list[Event]:
    """The events of a text written in another language, after the wish for that language."""
    switch = Event(EventName.LANGUAGE, language or None, text.strip())
    if not language or language not in lexicons:
        return [*events, switch]
    other = lexicons[language]
    heard = hear(text, other)
    theirs = say.dangers(heard) + _events(heard, listening, other)
    kinds = {(event.name, event.value) for event in events}
    added = [e for e in theirs if (e.name, e.value) not in kinds and e.name is not EventName.GREETING]
    return [*(e for e in events if e.name not in (EventName.UNCLEAR, EventName.GREETING)), switch, *added]
