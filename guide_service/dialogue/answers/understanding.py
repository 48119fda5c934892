"""One text against the open question: which events it is, in the order in which they must be handled.

Order of precedence: danger, opt-out and opt-in in every shipped language; answers of machines; the open question's
answers; readings; commands; questions in free words; the person's own words where a name is asked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from guide_service.dialogue.answers import facts as say
from guide_service.dialogue.answers.addresses import address_told
from guide_service.dialogue.answers.air import read_air
from guide_service.dialogue.answers.bare_corrections import bare_correction
from guide_service.dialogue.answers.bare_readings import bare_readings
from guide_service.dialogue.answers.hearing import Heard, hear
from guide_service.dialogue.answers.lexemes import Lexeme
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.new_places import kind_said, read_new_places
from guide_service.dialogue.answers.offered import day_instead, typed_out
from guide_service.dialogue.answers.questions import (
    DID,
    LONGEST_ADDRESS,
    LONGEST_NAME,
    NO,
    OK,
    PART,
    STATED,
    YES,
    answer,
    bare_year,
    read_name,
    says_ok,
    setting_told,
    yes_no,
)
from guide_service.dialogue.answers.readings import lexemes_of, read_readings
from guide_service.dialogue.answers.room_lists import rooms_named
from guide_service.dialogue.answers.room_names import QUESTIONS as ROOM_QUESTIONS
from guide_service.dialogue.answers.room_names import room_of
from guide_service.dialogue.answers.rooms_with_bays import rooms_with_bays
from guide_service.dialogue.answers.said_of_places import Outcome
from guide_service.dialogue.answers.settling import LEAST_PLAUSIBLE
from guide_service.dialogue.answers.spelling import BREAK
from guide_service.dialogue.events import (
    NO_MOULD,
    SETTING,
    SMELL,
    Event,
    EventName,
    Expect,
    Listening,
    ReadingsHeard,
    Unclear,
    WhyUnclear,
)

_WANTS_NUMBERS = frozenset({Expect.CHOICE, Expect.COUNT, Expect.NUMBER, Expect.BAYS, Expect.DATE, Expect.NAME})
_TAKES_A_YEAR = _WANTS_NUMBERS - {Expect.CHOICE} | {Expect.READINGS}
_BEATS_A_NAME = frozenset({EventName.PERSON, EventName.HELP, EventName.BACK, EventName.REPEAT, EventName.WHY,
                           EventName.SKIP, EventName.DONE, EventName.LATER, EventName.UNDO, EventName.AUTOMATIC,
                           EventName.WRONG_NUMBER, EventName.UPSET, EventName.THANKS, EventName.MOULD,
                           EventName.NEW_WATER, EventName.CLOSED, EventName.CLEARED, EventName.CONFIRM,
                           EventName.CALLS})  # fmt: skip
_ALONE_BEATS_A_NAME = frozenset(
    {EventName.METER, EventName.CHECK, EventName.STATUS, EventName.PLACES, EventName.GREETING}
)
"""Commands of one word; in more words they may be a name ("the county's meter")."""
_PART_OF_AN_ANSWER = frozenset(
    {EventName.THANKS, EventName.LATER, EventName.GREETING, EventName.DONE, EventName.STATUS, EventName.HOUSE}
)
_OF_ITS_OWN = frozenset({EventName.METER, EventName.CALLS})
""" "I have one" is about a meter and "no calls" about calls, whatever else was asked."""
_NEVER_A_NAME = frozenset({"what_is_stud", "what_number", "where_pins", "who_are_you", "why_not_closed", "cost"})
"""Questions whose words name no room and no street."""
_READ_BACK = frozenset({"check.sure", "check.far"})
"""Questions that read a number back: another number is what was meant."""
_ABOUT_WATER = (".water",)
"""Questions of the kind of water: "a pipe burst" is an answer there, and no new water."""
_ABOUT_SIGNS = frozenset({"afterwards.look_back", "closed.signs"})
"""Questions of what a closed wall shows: "a musty smell" is an answer there, and what it means is decided there."""
_NO_SIGNS = {"closed.signs": NO}
"""Of these, where "no mold" is the answer no. At the look back it is not: a stain or a swelling may be there."""
_NOTHING = frozenset({"nothing", NO})
_SIGNS = frozenset({"smell", "stain", "swelling", "yes"})
_MAY_WE_GO_IN = "order.enter"
"""The question whether one may go in: "the firemen said that we can go back in" answers it and asks nothing."""
_OUTSIDE = frozenset({"outside", "wait"})
"""Answers of who is not back inside."""
_WOUND = "cut"
"""The topic of a nail in the foot and the like."""
_ABOUT_SMELL, _SMELT = "mould.smell", frozenset({SMELL, "smelt", NO_MOULD})
"""The question of what it smells like: a smell is an answer there ("mud" denies nothing besides), what is seen is told
besides."""
_ABOUT_ROOMS = frozenset({"places.room", "places.room_one"})
"""Questions that may be answered with several rooms."""
_ADDRESS = "welcome.address"
_NO_SUGGESTION = frozenset({WhyUnclear.TOO_HIGH, WhyUnclear.NEGATIVE, WhyUnclear.MANY_NUMBERS})
"""Numbers of a place that are so unclear that none is suggested."""
_PROOF = "proof.ask"
"""The question whose house it is: three wrong answers lock, so what asks or tells anything else is none."""
_CAUTIONS = frozenset({"generator", "heater", "gas", "kids_health", "cut", "crawl_space"})
"""Topics that keep out of danger: answered also where they are only told of."""
_QUESTIONS = frozenset({EventName.TOPIC, EventName.WHY, EventName.STATUS})
START_WORD = "start"
"""What carriers take for a yes."""
PERSON_KEY = "0"
"""Text or key that reaches a person, whatever was asked."""
SHORT_ANSWER = 5
"""Words up to which a text without a question mark is taken as the answer alone."""
_WORDS_THAT_TELL = 3
"""Words that one language knows and no other in such number make it plain."""
_TELLTALE_WORDS = 2
"""Frequent words of another language that make it likely that the text is written in it."""


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
        language = guessed = _written_in(heard, events, listening, lexicons)
    if language is None and listening.first_contact and not events:
        known = _other(_known_best(text, lexicon, lexicons), lexicon)
        language = guessed = known or _rooms_in(text, listening, lexicons)
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
        if answered is not None and listening.asked.expect in _WANTS_NUMBERS:
            readings = []
    if readings and answered is not None and answered.name is EventName.CHOICE:
        answered = None
    said = say.facts(heard, lexicon, outcome.spans if readings else (), listening)
    moves = [event for event in said if event.name is EventName.DATE]
    said = [event for event in said if event.name is not EventName.DATE]
    if readings and _asks_of_a_number(said, heard, outcome):
        readings = []
    if _tells(said, EventName.TOPIC, _WOUND):
        readings = readings if _has_digits(heard) else []
        answered = None if answered is not None and _is_by_its_words(answered, heard) else answered
    events = _together(readings, answered, said, heard, listening, lexicon)
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
    no_street = listening.asked.question == _ADDRESS and not event.street
    return no_street or _cannot_prove(event.raw, listening)


def _cannot_prove(words: str, listening: Listening) -> bool:
    """Words without a number, where it is asked whose house it is: a room at most."""
    return listening.asked.question == _PROOF and not any(sign.isdigit() for sign in words)


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


def _tells(said: list[Event], name: EventName, value: object = None) -> bool:
    return any((event.name, event.value) == (name, value) for event in said)


def _is_by_its_words(answered: Event, heard: Heard) -> bool:
    """ "Got a cut on my finger": no wall was cut, and no one bay counted."""
    return answered.value in STATED or (answered.name is not EventName.CHOICE and not _has_digits(heard))


def _has_digits(heard: Heard) -> bool:
    return any(token.text[0].isdigit() for token in heard.tokens)


def _together(
    readings: list[Event],
    answered: Event | None,
    said: list[Event],
    heard: Heard,
    listening: Listening,
    lexicon: Lexicon,
) -> list[Event]:
    events = [*readings, *said]
    if any(event.name is EventName.BLOCK for event in said):
        events = [event for event in events if not _is_of_the_block(event)]
        answered = None if answered is not None and answered.name is EventName.NUMBER else answered
    if any(event.name in _QUESTIONS for event in said):
        events = [event for event in events if not _is_claim(event)]
    if any(event.name is EventName.MOULD or event.value == "mold_general" for event in said):
        events = [event for event in events if not _is_colour(event)]
    if any(event.name is EventName.UNWELL for event in events) and not say.asks_anything(heard, lexicon):
        # who is ill comes first: "he drank some of the muddy water" asks nothing of mud, and does no step in part
        events = [e for e in events if e.name is not EventName.TOPIC or e.value in _CAUTIONS]
        answered = None if answered is not None and answered.value == PART else answered
    if answered is not None and events and _is_unoffered(answered, listening):
        answered = None
    if answered is not None and _denies_signs(answered, events, listening):
        answered = None
    if answered is None:
        events = _without_signs(events, listening)
    if answered is not None and any(_is_of_its_own(event, answered) for event in said):
        answered = None
    if answered is not None and answered.value in _OUTSIDE and _tells(said, EventName.CLEARED):
        answered = None  # "still outside, the sheriff let us back in"
    if answered is not None:
        rest = (e for e in events if not _is_part_of_answer(e, answered, heard, listening, lexicon))
        events = [*rest, answered]
    if listening.asked.expect is Expect.NAME and not readings:
        events = _or_name(events, heard, listening, lexicon)
    if not events and not listening.opted_out and say.wants_start(heard) is not None:
        events = [_begin(heard, listening)]
    if not events and listening.asked.expect not in _WANTS_NUMBERS - {Expect.CHOICE}:
        new = read_new_places(heard, lexemes_of(heard, listening, lexicon), lexicon)
        events = [Event(EventName.READINGS, new, heard.text.strip())] if new is not None else []
    return events


def _denies_signs(answered: Event, events: list[Event], listening: Listening) -> bool:
    """ "Nothing but mold": what is told of beside it says more."""
    nothing = answered.value in _NOTHING and listening.asked.question in _ABOUT_SIGNS
    return nothing and any(event.name is EventName.MOULD and event.value != NO_MOULD for event in events)


def _without_signs(events: list[Event], listening: Listening) -> list[Event]:
    """ "No mold here" to the question of what a closed wall shows: nothing of that, unless mould is told of as well."""
    key = _NO_SIGNS.get(listening.asked.question)
    if key is None or not any(event.name is EventName.MOULD for event in events):
        return events
    seen = any(event.name is EventName.MOULD and event.value != NO_MOULD for event in events)
    denied = [] if seen else [Event(EventName.CHOICE, key, event.raw) for event in events if event.value == NO_MOULD]
    return [*denied[:1], *(event for event in events if event.value != NO_MOULD)]


def _is_of_the_block(event: Event) -> bool:
    """What else was heard in "the block says 12.4": its number is no reading of a place."""
    heard = event.value
    if isinstance(heard, ReadingsHeard):
        return not any(item.place for item in heard.items)
    return event.name in (EventName.UNCLEAR, EventName.STATUS)


def _is_claim(event: Event) -> bool:
    """ "Dry" or "wet" without a number, as in "why is K1 still wet"."""
    unclear = event.value
    if not isinstance(unclear, Unclear):
        return False
    return unclear.why is WhyUnclear.NOT_A_READING and unclear.suggestion is None


def _is_colour(event: Event) -> bool:
    """ "The wood is green on the bottom, is that mold?": the wood's colour and not the meter's."""
    unclear = event.value
    return isinstance(unclear, Unclear) and unclear.why is WhyUnclear.WHICH_POINT and unclear.suggestion is None


def _is_of_its_own(event: Event, answered: Event) -> bool:
    if event.value == "none" and answered.value == YES:
        return False  # "that is fine, but do not call me at work"
    return event.name in _OF_ITS_OWN


def _is_unoffered(answered: Event, listening: Listening) -> bool:
    """A yes, no or "not sure" that the open question does not offer: worth nothing beside anything else."""
    offered = {offer.key for offer in listening.asked.offers}
    return (
        answered.name is EventName.CHOICE
        and answered.value in ("yes", "no", "unsure")
        and answered.value not in offered
    )


def _is_part_of_answer(event: Event, answered: Event, heard: Heard, listening: Listening, lexicon: Lexicon) -> bool:
    """Whether ``event`` only hears the words of the answer in another way ("ok", "tomorrow", "I rent")."""
    smells = event.name is EventName.MOULD and event.value in _SMELT
    of_the_water = event.name is EventName.NEW_WATER or (smells and event.value != NO_MOULD)
    if of_the_water and listening.asked.question.endswith(_ABOUT_WATER):
        return True  # "from the toilet, it stinks": the water does
    if event.name is EventName.MOULD and listening.asked.question in _ABOUT_SIGNS:
        return answered.value in _SIGNS or event.value == NO_MOULD  # "nothing but mold" is a report
    if (event.name, event.value) == (EventName.TOPIC, say.GO_IN) and listening.asked.question == _MAY_WE_GO_IN:
        return not heard.asks
    if event.name is EventName.CLEARED:
        return True  # "they let us back in, it is all mud"
    if event.name is EventName.MOULD and listening.asked.question == _ABOUT_SMELL and event.value in _SMELT:
        return True  # "musty" is the answer, and one report
    if (event.name, event.value) in ((EventName.TOPIC, answered.value), (EventName.TOLD, f"role.{answered.value}")):
        return True  # "we rent from a guy": what follows the answer says what the topic would
    if answered.value == DID and event.name is EventName.TOPIC and event.value not in _CAUTIONS:
        return not say.asks_anything(heard, lexicon)  # "shoveled all the mud out" asks nothing of mud
    short = heard.size <= SHORT_ANSWER and not heard.asks
    return event.name in _PART_OF_AN_ANSWER or (short and event.name is EventName.TOPIC)


def _begin(heard: Heard, listening: Listening) -> Event:
    """START of somebody who is opted in: the bare word is an ordinary yes where one is offered; all else ("start over")
    is a greeting."""
    offered = any(offer.key == YES for offer in listening.asked.offers)
    name, value = (EventName.CHOICE, YES) if offered and heard.words == [START_WORD] else (EventName.GREETING, None)
    return Event(name, value, heard.text.strip())


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


def _or_name(events: list[Event], heard: Heard, listening: Listening, lexicon: Lexicon) -> list[Event]:
    beating = {*_BEATS_A_NAME}
    if heard.size > SHORT_ANSWER or heard.asks:
        beating.add(EventName.TOPIC)
    if heard.size == 1:
        beating |= _ALONE_BEATS_A_NAME
    asks = any(event.name is EventName.TOPIC and event.value in _NEVER_A_NAME for event in events)
    asks = asks or (bool(events) and _cannot_prove(heard.folded, listening))
    if asks or say.dangers(heard) or any(event.name in beating for event in events):
        return [event for event in events if event.name is not EventName.UNCLEAR]
    plain = yes_no(heard, affirmed=False)
    if plain is not None:
        return [Event(EventName.CHOICE, plain, heard.text.strip())]  # "no" names no room
    of_house = listening.asked.question == _ADDRESS
    name = read_name(heard, lexicon, LONGEST_ADDRESS if of_house else LONGEST_NAME)
    if name is None:
        return events
    if of_house:
        return [replace(name, street=address_told(heard, lexicon) is not None)]
    rooms = rooms_named(heard, lexicon) if listening.asked.question in _ABOUT_ROOMS else ()
    if not rooms and listening.asked.question in ROOM_QUESTIONS:
        room = room_of(str(name.value), lexicon)
        if room is None:
            return events
        name = replace(name, value=room)
    return [replace(name, kind=kind_said(heard, lexicon), rooms=rooms)]


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


def _written_in(heard: Heard, events: list[Event], listening: Listening, lexicons: Mapping[str, Lexicon]) -> str | None:
    """The other language whose frequent words the text holds, when its own language made nothing of it; of a first
    text, whose language nobody knows, always.

    Words that its own language has too betray nothing: one of them at least must be foreign to it ("do" and "a" are
    Vietnamese as well, "la" and "un" French).
    """
    if not listening.first_contact and any(event.name is not EventName.UNCLEAR for event in events):
        return None
    lexicon = lexicons.get(listening.language) or next(iter(lexicons.values()))
    words = set(heard.words)
    ours = len(words & lexicon.common)
    foreign = words - lexicon.known
    counts = {
        code: len(words & other.common) * bool(foreign & other.common)
        for code, other in lexicons.items()
        if code != lexicon.language
    }
    most = max(counts.values(), default=0)
    best = [code for code, count in counts.items() if count == most]
    return best[0] if len(best) == 1 and most >= max(_TELLTALE_WORDS, ours + 1) else None


def _other(language: str | None, lexicon: Lexicon) -> str | None:
    return None if language == lexicon.language else language


def _known_best(text: str, lexicon: Lexicon, lexicons: Mapping[str, Lexicon]) -> str | None:
    """The language that knows most words of a first text, at least half of them, and more than any other."""
    counts = {}
    for code, other in lexicons.items():
        words = [word for word in hear(text, other).own if word[0].isalpha()]
        known = sum(word in other.speller.known or word in other.common for word in words)
        counts[code] = known if 2 * known >= len(words) else 0
    first, *rest = sorted(counts, key=lambda code: (-counts[code], code != lexicon.language))
    sure = counts[first] >= _WORDS_THAT_TELL and all(counts[code] < counts[first] for code in rest)
    return first if sure else None


def _rooms_in(text: str, listening: Listening, lexicons: Mapping[str, Lexicon]) -> str | None:
    """The one language in which a first text is rooms with numbers ("cocina 145")."""
    heard = ((other, hear(text, other)) for other in lexicons.values() if other.language != listening.language)
    found = [o.language for o, said in heard if read_new_places(said, lexemes_of(said, listening, o), o) is not None]
    return found[0] if len(found) == 1 else None


_NOBODY_TO_ASK = frozenset({EventName.STOP, EventName.AUTOMATIC, EventName.WRONG_NUMBER, EventName.JOIN})
"""Events of a first text after which nobody is asked for a language."""


def with_language(
    text: str, events: tuple[Event, ...], language: str, lexicons: Mapping[str, Lexicon], *, settled: bool = False
) -> tuple[Event, ...]:
    """``events`` of a first text, and that it is plainly written in ``language``: nobody is asked what is plain. The
    language comes last: what was said is answered before we say who we are.

    ``settled``: it would not be asked anyway (there is but one, or a cry for help has told it), so writing on in it
    wishes for nothing.
    """
    named = [event for event in events if event.name is EventName.LANGUAGE]
    if named:
        return (*(event for event in events if event.name is not EventName.LANGUAGE), *named)
    if settled or language not in lexicons or any(event.name in _NOBODY_TO_ASK for event in events):
        return events
    if _is_written_in(text, language, lexicons) or _known_best(text, lexicons[language], lexicons) == language:
        return (*events, Event(EventName.LANGUAGE, language, text.strip()))
    return events


def _is_written_in(text: str, language: str, lexicons: Mapping[str, Lexicon]) -> bool:
    """Whether it holds more frequent words of ``language`` than of any other."""
    words = set(hear(text, lexicons[language]).words)
    counts = {code: len(words & lexicon.common) for code, lexicon in lexicons.items()}
    ours = counts.pop(language)
    return ours >= _TELLTALE_WORDS and ours > max(counts.values(), default=0)


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
