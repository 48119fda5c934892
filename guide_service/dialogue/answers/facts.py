"""What phrases say by themselves, whatever was asked: danger, stop, mould, commands, questions in free words.

The longest phrase says what is meant: "test for mold" is a question, not a report. Danger and stop are never hidden by
another phrase, only taken back by their own look-alikes ("no gas smell", "the water won't stop").
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from guide_service.dialogue.answers.addresses import address_told, area_told
from guide_service.dialogue.answers.hearing import Heard, is_denied, is_to_come, meant, vetoed
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.phrases import Match
from guide_service.dialogue.answers.schema import BURNS
from guide_service.dialogue.answers.spelling import tidy
from guide_service.dialogue.answers.times import read_time
from guide_service.dialogue.events import (
    AT_RISK,
    NO_MOULD,
    OF_THE_FLOOD,
    SICK,
    SMELL,
    Danger,
    Event,
    EventName,
    Listening,
)

MOST_TOPICS = 2
"""Questions answered in one reply: more would not fit a text message. What keeps out of danger is not counted."""
GO_IN = "enter_house"
_NEVER_LEFT_OUT = frozenset({GO_IN, "just_flooded", "heater"})

_DECIMAL = re.compile(r"\d+(?:[.,]\d+)?")
LONGEST_CODE = 24
MOST_CODE_WORDS = 3

TOLD = "told"
UNWELL = "unwell"
BLOCK = "block"
"""What a meter showed on its check block: of a household that measures nothing yet it is a wall of blocks."""
_ROLE = "role."
FLOODED = "flooded.now"
_OTHER_SMELLS = frozenset({
    (EventName.TOPIC, "sewage"), (EventName.TOPIC, "mud"), (EventName.TOLD, "water.sewage"),
    (EventName.CHOICE, "sewage"),
})  # fmt: skip
_URGENT = frozenset({"danger", "stop"})
_WITH_A_VALUE = frozenset({EventName.JOIN, EventName.REMIND_AT, EventName.BLOCK})
_DENIABLE = frozenset({"told", "mould", "new_water", "closed", "cleared", "check", "done", "meter", "unwell"})
_STATED = frozenset({"cleared"})
"""Kinds that are only heard where they are told: "did they say we can go in?" tells nothing."""
_BY_CHOICE = frozenset({
    "answer", "choice", "first_choice", "step", "start", "written_in", "language", "first_automatic", BURNS,
})  # fmt: skip

ORDER: tuple[EventName, ...] = (
    EventName.DANGER, EventName.STOP, EventName.START, EventName.AUTOMATIC, EventName.LANGUAGE, EventName.UNDO,
    EventName.CORRECTION, EventName.READINGS, EventName.BLOCK, EventName.AIR, EventName.UNCLEAR, EventName.CONFIRM,
    EventName.MOULD, EventName.NEW_WATER, EventName.CLOSED, EventName.CLEARED, EventName.CHOICE, EventName.COUNT,
    EventName.NUMBER, EventName.BAYS, EventName.DATE,
    EventName.NAME, EventName.JOIN, EventName.DELETION, EventName.FILE, EventName.REVOKE, EventName.CODE,
    EventName.KEEP, EventName.REMIND_AT, EventName.CALLS, EventName.HOUSE, EventName.PERSON, EventName.WRONG_NUMBER,
    EventName.DONE, EventName.SKIP, EventName.BACK, EventName.REPEAT, EventName.LATER, EventName.UNSURE,
    EventName.METER, EventName.PLACES, EventName.CHECK, EventName.UNWELL, EventName.STATUS, EventName.WHY,
    EventName.TOPIC, EventName.TOLD, EventName.HELP, EventName.UPSET,
    EventName.THANKS, EventName.GREETING, EventName.EMPTY, EventName.NOT_UNDERSTOOD,
)  # fmt: skip
"""The order in which the events of one text are handled."""

_RECORDED = frozenset({EventName.DANGER, EventName.STOP, EventName.START, EventName.READINGS, EventName.CORRECTION,
                       EventName.MOULD, EventName.NEW_WATER, EventName.CLOSED, EventName.LANGUAGE})  # fmt: skip
"""What counts beside danger."""

_Said = tuple[EventName, object]
_ANY = object()
_IDLE_BESIDE: tuple[tuple[_Said, _Said], ...] = (
    ((EventName.CLEARED, _ANY), (EventName.TOPIC, GO_IN)),
    ((EventName.TOPIC, _ANY), (EventName.HELP, _ANY)),
    ((EventName.TOPIC, _ANY), (EventName.WHY, _ANY)),
    ((EventName.HELP, "lost"), (EventName.HELP, None)),
    ((EventName.CORRECTION, _ANY), (EventName.UNDO, _ANY)),
    ((EventName.UNDO, "water"), (EventName.NEW_WATER, _ANY)),  # "it was only the washing machine that leaked"
    ((EventName.CALLS, None), (EventName.PERSON, _ANY)),  # the question that follows offers one
    ((EventName.CODE, _ANY), (EventName.JOIN, None)),
    ((EventName.FILE, _ANY), (EventName.TOPIC, "privacy")),
    ((EventName.DELETION, _ANY), (EventName.TOPIC, "privacy")),
    ((EventName.TOLD, AT_RISK), (EventName.TOPIC, "kids_health")),  # answered in the same words
    ((EventName.NEW_WATER, _ANY), (EventName.TOLD, FLOODED)),
    ((EventName.TOPIC, "heater"), (EventName.TOPIC, "fans_windows")),  # what burns kills: nothing else of it is said
    ((EventName.TOPIC, "heater"), (EventName.TOPIC, "electric_appliances")),
    ((EventName.TOPIC, "heater"), (EventName.TOPIC, "cold")),
    ((EventName.TOPIC, "clothes"), (EventName.TOPIC, "what_to_throw_out")),
    ((EventName.TOPIC, "meter_dead"), (EventName.TOPIC, "what_meter")),
    ((EventName.TOPIC, "just_flooded"), (EventName.TOLD, FLOODED)),
    ((EventName.TOPIC, "water_in_basement"), (EventName.TOLD, FLOODED)),
)
"""What one text says beside what; the second is then idle."""

_RANK = {name: rank for rank, name in enumerate(ORDER)}
_DANGER_RANK = {kind: rank for rank, kind in enumerate(Danger)}


def dangers(heard: Heard) -> list[Event]:
    """Every danger named, each kind once, in the order of ``Danger``."""
    found = {match.meaning.value: match for match in meant(heard, "danger")}
    kinds = sorted(map(Danger, found), key=_DANGER_RANK.__getitem__)
    return [Event(EventName.DANGER, kind, heard.raw_of(found[kind])) for kind in kinds]


def language_of_danger(heard: Heard, lexicon: Lexicon) -> str | None:
    """The other language that a cry for help is written in, where it is certain which."""
    languages = {match.meaning.language for match in meant(heard, "danger")}
    return languages.pop() if len(languages) == 1 and lexicon.language not in languages else None


def wants_stop(heard: Heard) -> Event | None:
    """An opt-out, unless its words are part of a cry for help ("I dont want to live")."""
    urgent = meant(heard, "danger")
    found = (m for m in meant(heard, "stop") if not any(d.start < m.end and m.start < d.end for d in urgent))
    match = next(found, None)
    return None if match is None else Event(EventName.STOP, None, heard.raw_of(match))


def wants_start(heard: Heard) -> Event | None:
    match = next(iter(meant(heard, "start")), None)
    return None if match is None else Event(EventName.START, None, heard.raw_of(match))


def is_automatic_quote(heard: Heard) -> bool:
    """A phone's reaction to one of our texts: 'Liked "K1: 22 …"'. What it quotes is ours, not theirs."""
    for match in heard.matches:
        if match.meaning.kind == "first_automatic" and match.start == 0:
            after = heard.at[match.end - 1] + 1
            return after < len(heard.tokens) and heard.tokens[after].text == '"'
    return False


def language_named(heard: Heard, lexicon: Lexicon) -> str | None:
    """The other language that is asked for by name or that the text greets in; "": another one, and none is named."""
    asked = meant(heard, "language")
    named = [match.meaning.value for match in asked if match.meaning.value not in ("", lexicon.language)]
    if named:
        return named[0]
    longest_first = sorted(asked, key=lambda match: (match.start - match.end, match.meaning.value == ""))
    if longest_first and longest_first[0].meaning.value == "":
        return _name_inside(heard, longest_first[0], lexicon)
    for match in heard.matches:
        if match.meaning.kind == "written_in" and match.meaning.value != lexicon.language and _leads(heard, match):
            return match.meaning.value
    return None


def _name_inside(heard: Heard, asked: Match, lexicon: Lexicon) -> str:
    """The language that a wish for another one names ("hablo vietnamita"); "" where it names none that we know."""
    inside = (m.meaning for m in heard.matches if asked.start <= m.start and m.end <= asked.end and not m.meaning.veto)
    known = (meaning.value for meaning in inside if meaning.kind == "language")
    return next((value for value in known if value not in ("", lexicon.language)), "")


def names_own_language(heard: Heard, lexicon: Lexicon) -> bool:
    """The language that we write in already, and nothing else."""
    return any(heard.is_whole(match) for match in meant(heard, "language") if match.meaning.value == lexicon.language)


def _leads(heard: Heard, match: Match) -> bool:
    return match.start == 0 or (bool(heard.core) and match.start == heard.core[0])


def facts(heard: Heard, lexicon: Lexicon, used: Iterable[tuple[int, int]], listening: Listening) -> list[Event]:
    """Events of all phrases except danger, stop, start, yes and no. ``used``: tokens that readings have taken.

    While we get to know each other, what the house is and where it stands counts too.
    """
    spans = list(used)
    urgent = meant(heard, "danger")
    matches = [
        match
        for match in heard.matches
        if match.meaning.kind not in _BY_CHOICE
        and match.meaning.kind not in _URGENT
        and (listening.places or match.meaning.kind != BLOCK)
        and (listening.introducing or match.meaning.kind != TOLD or match.meaning.value == AT_RISK)
        and (listening.about_mould or not _denies_mould(match))
        and not match.meaning.veto
        and heard.applies(match)
        and not _inside(heard, match, spans)
        and not vetoed(match, heard.vetoes)
        and not (match.meaning.kind == EventName.DONE and is_to_come(heard, match.start, match.end))
        and not any(danger.start < match.end and match.start < danger.end for danger in urgent)
    ]
    matches = [m for m in matches if m.meaning.kind == TOLD or not any(_hides(other, m) for other in matches)]
    matches = [m for m in matches if not (heard.asks and any(_asks_of_it(other, m) for other in matches))]
    matches = [m for m in matches if m.meaning.kind not in _DENIABLE or not is_denied(heard, m, lexicon)]
    matches = [m for m in matches if m.meaning.kind not in _STATED or not _asked(heard, lexicon)]
    return [*_events(heard, matches, lexicon), *(_where(heard, lexicon, listening) if listening.introducing else ())]


def _where(heard: Heard, lexicon: Lexicon, listening: Listening) -> Iterable[Event]:
    told = {"address": address_told(heard, lexicon), "area": area_told(heard, listening.areas)}
    return [Event(EventName(TOLD), f"{what}.{value}", heard.text.strip()) for what, value in told.items() if value]


def asks_anything(heard: Heard, lexicon: Lexicon) -> bool:
    """Whether a question mark or a word that asks stands anywhere in the text."""
    return heard.asks or any(word in lexicon.asks for word in heard.spoken)


def names_what_burns(heard: Heard) -> bool:
    """Whether a generator or a heater is spoken of: somebody who is ill beside it has breathed its gas."""
    return bool(meant(heard, BURNS))


def unwell(heard: Heard, lexicon: Lexicon) -> Event | None:
    """Somebody says that he or she feels ill as gas makes ill (and not with a fever), and does not deny it."""
    ill = (match for match in meant(heard, UNWELL) if match.meaning.value != SICK)
    found = (match for match in ill if not is_denied(heard, match, lexicon))
    match = next(found, None)
    return None if match is None else Event(EventName.DANGER, Danger.CARBON_MONOXIDE, heard.raw_of(match))


def _denies_mould(match: Match) -> bool:
    return (match.meaning.kind, match.meaning.value) == (str(EventName.MOULD), NO_MOULD)


def _inside(heard: Heard, match: Match, spans: list[tuple[int, int]]) -> bool:
    first, last = heard.at[match.start], heard.at[match.end - 1] + 1
    return any(start <= first and last <= end for start, end in spans)


def _hides(longer: Match, match: Match) -> bool:
    covers = longer.meaning.kind != TOLD and longer.start <= match.start and match.end <= longer.end
    return covers and (longer.end - longer.start) > (match.end - match.start)


def _asked(heard: Heard, lexicon: Lexicon) -> bool:
    return heard.asks or (bool(heard.spoken) and heard.spoken[0] in lexicon.asks)


def _asks_of_it(topic: Match, match: Match) -> bool:
    """Whether ``topic`` asks in the very words that tell of mould: Arabic joins "and" to "the mould?"."""
    same = (topic.start, topic.end) == (match.start, match.end)
    return same and topic.meaning.kind == EventName.TOPIC and match.meaning.kind == EventName.MOULD


def _events(heard: Heard, matches: Iterable[Match], lexicon: Lexicon) -> list[Event]:
    found: dict[tuple[str, str], Event] = {}
    topics = 0
    for match in matches:
        kind, value = match.meaning.kind, match.meaning.value
        counted = kind == "topic" and value not in _NEVER_LEFT_OUT
        if (kind, value) in found or (counted and topics >= MOST_TOPICS):
            continue
        topics += counted
        found[kind, value] = Event(EventName(kind), value or None, heard.raw_of(match))
        if kind == EventName.DONE and heard.is_asked(match.start, match.end):
            found[kind, value] = Event(EventName.STATUS, None, heard.raw_of(match))
        if kind == "join":
            code = _code_after(heard, match) or (None if heard.is_whole(match) else "")
            found[kind, value] = Event(EventName.JOIN, code, heard.text.strip())
        if kind == "places":  # "remove the hall floor": the floor, not the hall
            onwards = heard.raw(heard.at[match.start], len(heard.tokens))
            found[kind, value] = Event(EventName.PLACES, value or None, onwards)
        if kind == "block":
            found[kind, value] = Event(EventName.BLOCK, _one_number_after(heard, match), heard.text.strip())
        if kind == "remind_at":
            hour = read_time(_after(heard, match), lexicon)
            found[kind, value] = Event(EventName.REMIND_AT, hour or "", heard.text.strip())
    return [event for event in found.values() if event.name not in _WITH_A_VALUE or event.value != ""]


def _place(event: Event) -> tuple[float, bool]:
    """Whether one may go in is answered before all else, then what to do first in a flooded house."""
    value = str(event.value)
    if event.name is EventName.TOPIC and value == GO_IN:
        return _RANK[EventName.LANGUAGE] + 0.5, True
    if event.name is EventName.TOLD and value.startswith((_ROLE, *OF_THE_FLOOD)):
        return _RANK[EventName.TOPIC] - 0.5, not value.startswith(_ROLE)
    return _RANK[event.name], True


def _without_idle_mould(events: Sequence[Event]) -> list[Event]:
    """A bad smell beside sewage or mud is theirs, beside mould it is mould; who says that there is none, sees none."""
    senses = {event.value for event in events if event.name is EventName.MOULD}
    idle = {SMELL} if senses - {SMELL} else set()
    if any((event.name, event.value) in _OTHER_SMELLS for event in events):
        idle.add(SMELL)
    if NO_MOULD in senses and "seen" not in senses:
        idle |= {SMELL, "smelt"}
    return [event for event in events if event.name is not EventName.MOULD or event.value not in idle]


def _after(heard: Heard, match: Match) -> str:
    return heard.raw(heard.at[match.end - 1] + 1, len(heard.tokens))


def _one_number_after(heard: Heard, match: Match) -> float | str:
    """The only number of the text, after ``match``; "" where there is none or another one."""
    numbers = [token.text.replace(",", ".") for token in heard.tokens if token.text[0].isdigit()]
    return float(numbers[0]) if len(numbers) == 1 and _DECIMAL.search(_after(heard, match)) else ""


def _code_after(heard: Heard, match: Match) -> str:
    """What follows "join": a code, in capitals, with single blanks."""
    rest = _after(heard, match)
    code = tidy(rest.strip(" .,:;!#\"'"), LONGEST_CODE).upper()
    return code if len(rest.split()) <= MOST_CODE_WORDS and any(c.isdigit() for c in code) else ""


def in_order(events: Iterable[Event]) -> tuple[Event, ...]:
    """The events of one text in the order in which they are handled, without those that another one makes idle.

    A greeting counts only alone; beside danger only what must be recorded counts; for the rest see ``_IDLE_BESIDE``.
    """
    events = tuple(events)
    if len(events) < 2:
        return events
    listed = sorted(_without_idle_mould(events), key=_place)
    names = {event.name for event in listed}
    idle = {EventName.GREETING} if len(names) > 1 else set()
    if EventName.DANGER in names:
        idle |= names - _RECORDED
    elif EventName.AUTOMATIC in names:
        idle |= names - _RECORDED - {EventName.AUTOMATIC}
    said = [of for beside, of in _IDLE_BESIDE if any(_is(event, beside) for event in listed)]
    return tuple(event for event in listed if event.name not in idle and not any(_is(event, of) for of in said))


def _is(event: Event, said: _Said) -> bool:
    return event.name is said[0] and (said[1] is _ANY or event.value == said[1])
