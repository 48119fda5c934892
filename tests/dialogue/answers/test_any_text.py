"""What holds for every text whatsoever."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from guide_service.dialogue.answers import understand
from guide_service.dialogue.events import Danger, Event, EventName, ReadingsHeard
from guide_service.drying.terms import Qualifier
from tests.dialogue.answers.situations import LANGUAGES, lexicons, situations

SITUATIONS = sorted(situations("en"))
PIECES = [
    "K1", "k2", "H1", "S1", "K9", "kitchen", "hall", "plate", "stud", "mid stud", "drywall", "treated",
    "22", "19", "17", "14,5", "14.5", "22,19,17", "145", "-3", "l4", "1O", "over", "below", "<", ">", "+",
    "%", "-", "/", ":", ",", ".", "?", "!", "no", "not", "was", "is", "and", "to", "between", "about",
    "yesterday", "tomorrow", "on", "5/12", "75F", "temp", "humidity", "14½", "1/2", "and a half", "point",
    "five", "twenty", "two", "one", "four", "OL", "green", "red", "mold", "i see", "stop", "please",
    "start", "yes", "maybe", "fire", "smell gas", "nobody", "hurt", "why", "help", "0", "later", "undo",
    "correction", "should be", "subfloor", "bay", "2", "3 ft of water", "kids", "dry", "hola", "gracias",
    "👍", "\n", "ayer", "placa", "montante", "veintidós", "y medio", "más de", "٢٢", "２２", "\u200f", "\x00",
    "can i", "turn on power",
]  # fmt: skip


def fragments() -> st.SearchStrategy[str]:
    return st.lists(st.sampled_from(PIECES), max_size=14).map(" ".join)


def texts() -> st.SearchStrategy[str]:
    return st.one_of(fragments(), st.text(max_size=300), fragments().map(lambda text: text.replace(" ", "")))


def stable(events: tuple[Event, ...]) -> tuple[tuple[object, ...], ...]:
    return tuple((event.name, event.value) for event in events)


@settings(max_examples=400, deadline=None)
@given(texts(), st.sampled_from(SITUATIONS), st.sampled_from(LANGUAGES))
def test_any_text_gives_events_and_never_raises(text: str, situation: str, language: str) -> None:
    listening = situations(language)[situation]
    events = understand(text, listening, lexicons())
    assert events
    assert all(isinstance(event, Event) for event in events)
    assert stable(events) == stable(understand(text, listening, lexicons()))


@settings(max_examples=300, deadline=None)
@given(texts(), st.sampled_from(SITUATIONS))
def test_danger_comes_first_and_stop_stands_alone_after_it(text: str, situation: str) -> None:
    names = [event.name for event in understand(text, situations("en")[situation], lexicons())]
    danger = [name for name in names if name is EventName.DANGER]
    assert names[: len(danger)] == danger
    if EventName.STOP in names:
        assert names[len(danger) :] == [EventName.STOP]


LETTERS = st.text(alphabet="abcdefghijklmnopqrstuvwxyz ,.?!'", max_size=120)


@settings(max_examples=300, deadline=None)
@given(LETTERS, st.sampled_from(SITUATIONS))
def test_no_number_comes_from_a_text_without_a_digit_or_a_number_word(text: str, situation: str) -> None:
    words = lexicons()["en"].terms
    numbers = {word for word, node in words.items() if any(term.kind == "number" for term in node.get("", ()))}
    if numbers & set(text.replace("'", "").replace(".", " ").replace(",", " ").replace("?", " ").split()):
        return
    for event in understand(text, situations("en")[situation], lexicons()):
        if isinstance(event.value, ReadingsHeard):
            assert all(item.value is None for item in event.value.items)


@settings(max_examples=400, deadline=None)
@given(fragments(), st.sampled_from(SITUATIONS))
def test_every_number_understood_is_plausible_and_was_typed(text: str, situation: str) -> None:
    listening = situations("en")[situation]
    for event in understand(text, listening, lexicons()):
        if not isinstance(event.value, ReadingsHeard):
            continue
        for item in event.value.items:
            if item.value is None:
                assert item.qualifier is Qualifier.ABOVE or item.colour is not None
                continue
            assert 0 <= item.value <= 100
            assert item.qualifier is not Qualifier.BELOW or item.value <= 8
            assert (
                item.place is None
                or item.place.label is None
                or item.place.label in {p.label for p in listening.places}
            )


@pytest.mark.parametrize("text", ["", " ", "\n\n", "\x00\x01", "\u200f", "\u2066\u2069", "️"])
def test_a_text_that_says_nothing_is_empty(text: str) -> None:
    assert [event.name for event in understand(text, situations("en")["idle"], lexicons())] == [EventName.EMPTY]


@pytest.mark.parametrize(
    "text", ["a" * 1600, "K1 22 " * 270, "👍" * 800, "(" * 1600, "22," * 530, "no " * 530, "½" * 900]
)
def test_the_longest_texts_are_understood_too(text: str) -> None:
    for situation in SITUATIONS:
        assert understand(text, situations("en")[situation], lexicons())


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("situation", SITUATIONS)
def test_carrier_words_stop_in_every_situation_and_language(language: str, situation: str) -> None:
    for word in (
        "STOP",
        "stop.",
        "StopAll",
        "UNSUBSCRIBE",
        "End",
        "QUIT",
        "cancel",
        "REVOKE",
        "OPTOUT",
        "opt-out",
        " Stop! ",
    ):
        events = understand(word, situations(language)[situation], lexicons())
        assert [event.name for event in events] == [EventName.STOP], word


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("situation", SITUATIONS)
def test_danger_is_heard_in_every_language_in_every_situation(language: str, situation: str) -> None:
    for text, kind in (("i smell gas", Danger.GAS), ("huele a gas", Danger.GAS), ("I can't breathe", Danger.LIFE),
                       ("no puedo respirar", Danger.LIFE), ("me quiero morir", Danger.SELF_HARM)):  # fmt: skip
        first = understand(text, situations(language)[situation], lexicons())[0]
        assert (first.name, first.value) == (EventName.DANGER, kind), text


@pytest.mark.parametrize("situation", SITUATIONS)
def test_zero_is_a_person_whatever_was_asked(situation: str) -> None:
    for text in ("0", " 0 ", "0."):
        assert [e.name for e in understand(text, situations("en")[situation], lexicons())] == [EventName.PERSON]


def test_an_unknown_language_is_heard_with_the_first_lexicon() -> None:
    listening = dataclasses.replace(situations("en")["idle"], language="xx")
    assert understand("hello", listening, lexicons())[0].name is EventName.GREETING
