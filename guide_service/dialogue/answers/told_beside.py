"""What one text says, put together: its readings, the answer to the open question, and what is told beside it."""

from __future__ import annotations

from dataclasses import replace

from guide_service.dialogue.answers import facts as say
from guide_service.dialogue.answers.addresses import address_told
from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.new_places import kind_said, read_new_places
from guide_service.dialogue.answers.questions import (
    CONSENT,
    DID,
    LONGEST_ADDRESS,
    LONGEST_NAME,
    NO,
    PART,
    YES,
    read_name,
    yes_no,
)
from guide_service.dialogue.answers.readings import lexemes_of
from guide_service.dialogue.answers.room_lists import rooms_named
from guide_service.dialogue.answers.room_names import QUESTIONS as ROOM_QUESTIONS
from guide_service.dialogue.answers.room_names import room_of
from guide_service.dialogue.events import (
    NO_MOULD,
    SMELL,
    Event,
    EventName,
    Expect,
    Listening,
    ReadingsHeard,
    Unclear,
    WhyUnclear,
)

WANTS_NUMBERS = frozenset({Expect.CHOICE, Expect.COUNT, Expect.NUMBER, Expect.BAYS, Expect.DATE, Expect.NAME})
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
_NEVER_A_NAME = frozenset(
    {"what_is_stud", "what_number", "where_pins", "who_are_you", "why_not_closed", "cost", "power_off"}
)
"""Questions whose words name no room and no street."""
_ASKED_BEFORE_CONSENT = ("who_are_you", "cost", "privacy")
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
_ABOUT_SMELL, _SMELT = "mould.smell", frozenset({SMELL, "smelt", NO_MOULD})
"""The question of what it smells like: a smell is an answer there ("mud" denies nothing besides), what is seen is told
besides."""
_ABOUT_ROOMS = frozenset({"places.room", "places.room_one"})
"""Questions that may be answered with several rooms."""
ADDRESS = "welcome.address"
_PROOF = "proof.ask"
"""The question whose house it is: three wrong answers lock, so what asks or tells anything else is none."""
_CAUTIONS = frozenset({"generator", "heater", "gas", "kids_health", "cut", "crawl_space"})
"""Topics that keep out of danger: answered also where they are only told of."""
_QUESTIONS = frozenset({EventName.TOPIC, EventName.WHY, EventName.STATUS})
START_WORD = "start"
"""What carriers take for a yes."""
SHORT_ANSWER = 5
"""Words up to which a text without a question mark is taken as the answer alone."""


def cannot_prove(words: str, listening: Listening) -> bool:
    """Words without a number, where it is asked whose house it is: a room at most."""
    return listening.asked.question == _PROOF and not any(sign.isdigit() for sign in words)


def tells(said: list[Event], name: EventName, value: object = None) -> bool:
    return any((event.name, event.value) == (name, value) for event in said)


def put_together(
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
    if answered is not None and _asks_before_consent(answered, said, listening):
        answered = None
    if answered is not None and _denies_signs(answered, events, listening):
        answered = None
    if answered is None:
        events = _without_signs(events, listening)
    if answered is not None and any(_is_of_its_own(event, answered) for event in said):
        answered = None
    if answered is not None and answered.value in _OUTSIDE and tells(said, EventName.CLEARED):
        answered = None  # "still outside, the sheriff let us back in"
    if answered is not None:
        rest = (e for e in events if not _is_part_of_answer(e, answered, heard, listening, lexicon))
        events = [*rest, answered]
    if listening.asked.expect is Expect.NAME and not readings:
        events = _or_name(events, heard, listening, lexicon)
    if not events and not listening.opted_out and say.wants_start(heard) is not None:
        events = [_begin(heard, listening)]
    if not events and listening.asked.expect not in WANTS_NUMBERS - {Expect.CHOICE}:
        new = read_new_places(heard, lexemes_of(heard, listening, lexicon), lexicon)
        events = [Event(EventName.READINGS, new, heard.text.strip())] if new is not None else []
    return events


def _asks_before_consent(answered: Event, said: list[Event], listening: Listening) -> bool:
    """ "Ok, but who is this?": who asks what it is, what it costs or who reads it has not agreed to it yet."""
    agrees = answered.value == YES and listening.asked.question == CONSENT
    return agrees and any(tells(said, EventName.TOPIC, topic) for topic in _ASKED_BEFORE_CONSENT)


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


def _or_name(events: list[Event], heard: Heard, listening: Listening, lexicon: Lexicon) -> list[Event]:
    beating = {*_BEATS_A_NAME}
    if heard.size > SHORT_ANSWER or heard.asks:
        beating.add(EventName.TOPIC)
    if heard.size == 1:
        beating |= _ALONE_BEATS_A_NAME
    asks = any(event.name is EventName.TOPIC and event.value in _NEVER_A_NAME for event in events)
    asks = asks or (bool(events) and cannot_prove(heard.folded, listening))
    if asks or say.dangers(heard) or any(event.name in beating for event in events):
        return [event for event in events if event.name is not EventName.UNCLEAR]
    plain = yes_no(heard, affirmed=False)
    if plain is not None:
        return [Event(EventName.CHOICE, plain, heard.text.strip())]  # "no" names no room
    of_house = listening.asked.question == ADDRESS
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
