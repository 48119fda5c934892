"""A letter and a number are a place, whatever the letter looks like: never a number that was not typed, never another
place, whether the place is followed, only a bay of a known wall, or not there at all."""

from __future__ import annotations

import string
from collections.abc import Iterator
from dataclasses import replace

import pytest

from guide_service.dialogue.answers import understand
from guide_service.dialogue.events import (
    Asked,
    Event,
    Expect,
    Listening,
    PlaceKnown,
    ReadingHeard,
    ReadingsHeard,
    Unclear,
)
from guide_service.drying.terms import Point
from tests.dialogue.answers.situations import LANGUAGES, lexicons, situations

VALUES = (*map(float, range(6, 41)), 6.5, 11.1, 14.5, 18.9, 22.2, 39.9)
BAYS = range(1, 13)
ASKED = {
    "nothing": Asked(),
    "due": Asked(Expect.READINGS),
    "another place": Asked(Expect.READINGS, place="K1", points=(Point.PLATE, Point.LOW_STUD, Point.MID_STUD)),
    "a choice": Asked(Expect.CHOICE),
}


def households(letter: str, bay: int) -> Iterator[Listening]:
    """With the place, with its wall alone, without both; in each another place that the numbers could slip to."""
    other = PlaceKnown("K2" if letter != "K" or bay != 2 else "K3", "K", "kitchen")
    for places, letters in (
        ((PlaceKnown(f"{letter}{bay}", letter, "den"), other), frozenset({letter, "K"})),
        ((other,), frozenset({letter, "K"})),
        ((other,), frozenset({"K"})),
    ):
        yield replace(situations("en")["idle"], places=places, letters=letters)


def parts(events: tuple[Event, ...]) -> Iterator[ReadingHeard | Unclear]:
    for event in events:
        if isinstance(event.value, ReadingsHeard):
            yield from (*event.value.items, *event.value.unclear)
        elif isinstance(event.value, Unclear):
            yield from (event.value, *event.value.items)


def wrong(events: tuple[Event, ...], label: str, value: float) -> str | None:
    for part in parts(events):
        number = part.value if isinstance(part, ReadingHeard) else part.suggestion
        if number not in (None, value):
            return f"{number} was never typed"
        if isinstance(part, ReadingHeard) and (part.place is None or part.place.words.upper() != label):
            return f"{value} went to {part.place}"
        if part.place is not None and part.place.label not in (None, label):
            return f"{value} went to {part.place.label}"
    return None


@pytest.mark.parametrize("letter", string.ascii_uppercase)
def test_a_letter_and_a_number_are_a_place(letter: str) -> None:
    failed = []
    for n, value in enumerate(VALUES):
        bay = BAYS[n % len(BAYS)]
        label = f"{letter}{bay}"
        for listening in households(letter, bay):
            for text in (f"{label} {value:g}", f"{label.lower()}: {value:g}"):
                failed += [(text, why) for why in [wrong(understand(text, listening, lexicons()), label, value)] if why]
    assert failed == []


@pytest.mark.parametrize("letter", "LIO")
@pytest.mark.parametrize("language", LANGUAGES)
def test_letters_that_look_like_digits_in_every_bay_question_and_language(letter: str, language: str) -> None:
    failed = []
    for bay in BAYS:
        for asked in ASKED.values():
            for listening in households(letter, bay):
                here = replace(listening, language=language, asked=asked)
                for value in (12.0, 17.5):
                    typed = f"{value:g}"
                    events = understand(f"{letter}{bay} {typed}", here, lexicons())
                    failed += [(bay, asked, why) for why in [wrong(events, f"{letter}{bay}", value)] if why]
    assert failed == []


def test_a_followed_place_and_a_bay_of_a_known_wall_are_heard_without_a_question() -> None:
    followed, of_wall, _unknown = households("L", 3)
    for listening in (followed, of_wall):
        for text in ("L3 12", "l3 12", "L 3 12", "l3 is 12", "L3: 12"):
            items = [part for part in parts(understand(text, listening, lexicons())) if isinstance(part, ReadingHeard)]
            assert [(item.place.words, item.value) for item in items if item.place] == [("L3", 12.0)], text


def test_two_of_such_places_in_one_text() -> None:
    _, of_wall, _ = households("L", 3)
    for text in ("l1 12 l3 13", "L1 12, L3 13", "L1 12\nL3 13"):
        heard = [event.value for event in understand(text, of_wall, lexicons())]
        waiting = [part.items for value in heard if isinstance(value, ReadingsHeard) for part in value.unclear]
        items = [item for of_place in waiting for item in of_place]
        assert [(item.place.words, item.value) for item in items if item.place] == [("L1", 12.0), ("L3", 13.0)], text


def test_digits_are_suggested_only_where_no_such_wall_is() -> None:
    with_l, _, without = households("L", 3)
    asked = [part.suggestion for part in parts(understand("K2 l4", without, lexicons())) if isinstance(part, Unclear)]
    assert asked == [14.0]
    for part in parts(understand("K2 l4", with_l, lexicons())):
        assert isinstance(part, Unclear)
        assert part.suggestion is None
