"""What keys and words of a caller mean at the prompt that was put: one move, decided without the database.

Words are understood by the very code that understands texts. Three things are a call's own: a number, name or date is
read back before it becomes an answer; danger and stop are taken at once; what means nothing at this prompt is asked
again without counting as a misunderstanding of the conversation.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from guide_service.calls.prompt import EVENT, OURS, PAGE, WORDS, Choice, Prompt
from guide_service.dialogue import keypad
from guide_service.dialogue.answers import understand
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.deeds_reaching import NO_CALLS
from guide_service.dialogue.events import Asked, Event, EventName, Expect, Listening, Offer

READ_BACK = frozenset(
    {
        EventName.READINGS,
        EventName.CORRECTION,
        EventName.NUMBER,
        EventName.BLOCK,
        EventName.COUNT,
        EventName.BAYS,
        EventName.NAME,
        EventName.DATE,
        EventName.AIR,
        EventName.REMIND_AT,
    }
)
"""What holds a number, a name or a date: it counts after the caller has heard it and said that it is right."""
AT_ONCE = frozenset({EventName.DANGER, EventName.STOP, EventName.START})
UNSURE_BELOW = 0.4
"""Confidence of the recogniser [0 to 1] below which even an offered answer is read back. Our choice."""
NOT_ON_THIS_PAGE = "-"


class Do(StrEnum):
    """What a call does by itself."""

    REPEAT = "repeat"
    MORE = "more"
    SILENCE = "silence"
    WRONG = "wrong"
    """A key or words that mean nothing here."""
    WAIT = "wait"
    PERSON = "person"
    ENDING = "ending"
    CHOSEN = "chosen"
    """One of the call's own choices: ``value`` is its key."""
    READ_BACK = "read_back"
    """``value``: words to be read back; ``events``: what they were understood to say."""
    TURN = "turn"
    """An answer for the conversation: ``value`` are its words, ``events`` what a key means."""


@dataclass(frozen=True, slots=True)
class Move:
    do: Do
    value: str = ""
    events: tuple[Event, ...] = ()


@dataclass(frozen=True, slots=True)
class Given:
    """What the carrier heard."""

    digits: str = ""
    words: str = ""
    confidence: float | None = None


def hear(given: Given, prompt: Prompt, page: int, listening: Listening, lexicons: Mapping[str, Lexicon]) -> Move:
    if given.digits:
        return _keys(given.digits, prompt, page)
    if given.words.strip():
        return _words(given, prompt, page, listening, lexicons)
    return Move(Do.SILENCE)


def choose(choice: Choice) -> Move:
    kind, key = choice.key[:1], choice.key[1:]
    if kind == OURS:
        return Move(Do.CHOSEN, choice.key)
    if kind == EVENT:
        return Move(Do.TURN, choice.words, (Event(EventName(key), None, choice.words),))
    if kind == WORDS:
        return Move(Do.TURN, key)
    return Move(Do.TURN, choice.words, (Event(EventName.CHOICE, choice.key, choice.words),))


# --- keys -----------------------------------------------------------------------------------------------------------


def _keys(digits: str, prompt: Prompt, page: int) -> Move:
    return _many_keys(digits.rstrip("#"), prompt) if prompt.many_keys else _one_key(digits[0], prompt, page)


def _one_key(key: str, prompt: Prompt, page: int) -> Move:
    on_page = prompt.on_page(page)
    if key in "1234" and int(key) <= len(on_page):
        return choose(on_page[int(key) - 1])
    if key == keypad.MORE:
        return Move(Do.MORE if prompt.pages > 1 else Do.REPEAT)
    return _command(key, prompt)


def _command(key: str, prompt: Prompt) -> Move:
    match key:
        case keypad.PERSON:
            return Move(Do.PERSON)
        case keypad.REPEAT:
            return Move(Do.REPEAT)
        case keypad.END:
            if prompt.expect is Expect.READINGS and prompt.many_keys:
                return Move(Do.TURN, "", (Event(EventName.DONE),))
            return Move(Do.ENDING)
        case keypad.WAIT:
            return Move(Do.WAIT)
        case keypad.BACK | keypad.LEAVE_OUT if prompt.state is not None and (key == keypad.BACK or prompt.many_keys):
            return Move(Do.TURN, "", (Event(keypad.COMMANDS[key]),))
    return Move(Do.WRONG)


def _many_keys(digits: str, prompt: Prompt) -> Move:
    key = keypad.command(digits, prompt.expect)
    if key is not None:
        return _command(key, prompt)
    if prompt.expect is not Expect.READINGS:
        words = keypad.answer(digits, prompt.expect)
        return Move(Do.READ_BACK, words) if words is not None else Move(Do.WRONG)
    found, place = keypad.readings(digits), prompt.asked.place if prompt.asked is not None else None
    if place is None:
        return Move(Do.WRONG)
    # what is no row of readings for certain ("145") goes on as it is: the conversation asks what was meant
    return Move(Do.READ_BACK, f"{place} {' '.join(found) if found else digits.replace('*', '.')}")


# --- words ----------------------------------------------------------------------------------------------------------


def _words(given: Given, prompt: Prompt, page: int, listening: Listening, lexicons: Mapping[str, Lexicon]) -> Move:
    words = given.words.strip()
    events = understand(words, _against(prompt, page, listening), lexicons)
    first = events[0]
    if first.name in AT_ONCE or (first.name is EventName.CALLS and first.value == NO_CALLS):
        return Move(Do.TURN, words)
    chosen = _choice(events, prompt)
    if chosen is not None:
        unsure = given.confidence is not None and given.confidence < UNSURE_BELOW and not chosen.key.startswith(OURS)
        return Move(Do.READ_BACK, chosen.words, choose(chosen).events) if unsure else choose(chosen)
    if first.name is EventName.PERSON:
        return Move(Do.PERSON)
    if first.name is EventName.REPEAT:
        return Move(Do.REPEAT)
    if prompt.state is None:
        return Move(Do.WRONG)
    if any(event.name in READ_BACK for event in events):
        return Move(Do.READ_BACK, words, events)
    return Move(Do.TURN, words)


def _choice(events: Sequence[Event], prompt: Prompt) -> Choice | None:
    if len(events) != 1 or events[0].name is not EventName.CHOICE:
        return None
    return next((choice for choice in prompt.choices if choice.key == events[0].value), None)


def _against(prompt: Prompt, page: int, listening: Listening) -> Listening:
    """Listening for the answers as they were spoken: those of this page by their keys, all by their words."""
    asked = prompt.asked or Asked(Expect.CHOICE)
    if not prompt.choices:
        return replace(listening, asked=asked)
    first = page * PAGE
    offers = tuple(
        Offer(str(at - first + 1) if first <= at < first + PAGE else NOT_ON_THIS_PAGE, choice.key, (choice.words,))
        for at, choice in enumerate(prompt.choices)
    )
    return replace(listening, asked=replace(asked, offers=offers))
