"""What our texts promise ("HELLO for the menu", "BACK", "0") is kept in every state that puts a question, in every
language: each word is understood against the open question with its answers as they are sent, and the machine does what
the word says wherever the question is."""

from __future__ import annotations

import tomllib

import pytest

from guide_service.dialogue.answers import understand
from guide_service.dialogue.answers.lexicon import load_lexicons
from guide_service.dialogue.events import Asked, Event, EventName, Expect, Listening, Offer
from guide_service.dialogue.flow import State
from guide_service.dialogue.machine import Standing, advance
from guide_service.dialogue.saying import Say
from guide_service.settings import LOCALES_DIR
from guide_service.wording.render import render
from tests.dialogue.world import TODAY, kitchen, larkwater

FLOWS = larkwater().flows
LANGUAGES = tuple(sorted(path.parent.name for path in LOCALES_DIR.glob("*/words.toml")))
LEXICONS = load_lexicons(LOCALES_DIR, LANGUAGES)
MEANS = {
    "BACK": EventName.BACK, "DONE": EventName.DONE, "HELLO": EventName.GREETING, "LATER": EventName.LATER,
    "METER": EventName.METER, "MOLD": EventName.MOULD, "NEXT": EventName.SKIP, "NO CALLS": EventName.CALLS,
    "PLACES": EventName.PLACES, "READINGS": EventName.CHECK, "REPEAT": EventName.REPEAT, "SKIP": EventName.SKIP,
    "STATUS": EventName.STATUS, "UNDO": EventName.UNDO, "WHY": EventName.WHY,
}  # fmt: skip
ANSWERED_BY_THEM = frozenset({Expect.NAME})
"""What is asked for there may be any words; only those that are never a name count."""
FIRST = ("welcome.", "joining.", "file.", "reaching.")
"""Questions that are settled before there is a menu: none of their texts promises one."""
ASKING = [state for state in FLOWS.states.values() if state.ask is not None and not state.final]


def asked_of(state: State, language: str) -> Asked:
    """The question of ``state`` as it is sent: its fixed answers with the words that a person sees."""
    catalogues = larkwater().catalogues
    labels = [(answer.key, render(Say(answer.label), language, catalogues)) for answer in state.answers
              if "%(" not in FLOWS.messages[answer.label].text]  # fmt: skip
    offers = tuple(Offer(str(number), key, (words,)) for number, (key, words) in enumerate(labels, 1))
    return Asked(state.expect, offers, question=state.ask or "")


def commands(language: str) -> dict[str, str]:
    named = tomllib.loads((LOCALES_DIR / language / "words.toml").read_text("utf-8")).get("commands", {})
    return {command: named.get(command, command) for command in MEANS}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_word_that_a_text_names_is_understood_in_every_state(language: str) -> None:
    wrong = []
    for state in ASKING:
        asked = asked_of(state, language)
        for command, word in commands(language).items():
            events = understand(word, Listening(language, asked, (), TODAY), LEXICONS)
            names = {event.name for event in events}
            answered = EventName.CHOICE in names or (state.expect in ANSWERED_BY_THEM and EventName.NAME in names)
            if MEANS[command] not in names and not answered:
                wrong.append((state.id, word, sorted(names)))
            if (
                command in ("HELLO", "BACK", "SKIP", "NEXT", "WHY", "NO CALLS", "REPEAT")
                and MEANS[command] not in names
            ):
                wrong.append((state.id, word, sorted(names)))
        zero = understand("0", Listening(language, asked, (), TODAY), LEXICONS)
        if [event.name for event in zero] != [EventName.PERSON]:
            wrong.append((state.id, "0", [event.name for event in zero]))
    assert wrong == []


NUMBERS = (EventName.COUNT, EventName.NUMBER, EventName.BAYS, EventName.READINGS)
TO_THE_GUIDE = ("later", "skip", "back", "repeat", "help", "why", "undo", "person")
COUNTING = [state for state in ASKING if state.expect in (Expect.COUNT, Expect.NUMBER, Expect.BAYS)]


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_word_to_the_guide_counts_nothing(language: str) -> None:
    """ "One moment", "una persona", 再说一遍 (say it one more time) and "để sau" (later, or six) are no number."""
    events = tomllib.loads((LOCALES_DIR / language / "words.toml").read_text("utf-8"))["events"]
    wrong = []
    for state in COUNTING:
        asked = asked_of(state, language)
        for text in [text for name in TO_THE_GUIDE for text in events[name].get("whole", ())]:
            names = [event.name for event in understand(text, Listening(language, asked, (), TODAY), LEXICONS)]
            if set(names) & set(NUMBERS):
                wrong.append((state.id, text, names))
    assert wrong == []


@pytest.mark.parametrize(
    ("language", "text"),
    [("vi", "chờ chút"), ("vi", "chút nữa"), ("zh", "晚一点"), ("ar", "بعد شوي")],
)
def test_a_wish_to_wait_a_little_tells_no_size(language: str, text: str) -> None:
    asked = asked_of(FLOWS.states["mould.size"], language)
    names = [event.name for event in understand(text, Listening(language, asked, (), TODAY), LEXICONS)]
    assert EventName.CHOICE not in names


def after(state: State, name: EventName) -> tuple[str, list[str]]:
    """Where a household that was asked something before stands after the word, and the ids of what it is told."""
    slots = {"greeted": True, "trail": ["order.where"]}
    decision = advance(FLOWS, Standing(state.id, slots), [Event(name, None, str(name))], kitchen())
    return decision.standing.state, [say.id for say in decision.says]


@pytest.mark.parametrize("state", [s for s in ASKING if not s.id.startswith(FIRST)], ids=lambda state: state.id)
def test_hello_is_the_menu_and_back_the_last_question_in_every_state(state: State) -> None:
    assert after(state, EventName.GREETING)[0] == "home.menu"
    assert after(state, EventName.BACK)[0] in ("order.where", "home.menu", *(_led_on_by("order.where")))
    assert after(state, EventName.PERSON)[1][0].startswith("person.")
    assert after(state, EventName.SKIP)[1] or after(state, EventName.SKIP)[0] != state.id


def _led_on_by(state: str) -> set[str]:
    return {transition.to or "" for transition in FLOWS.states[state].always}


@pytest.mark.parametrize("state", [s for s in ASKING if s.id.startswith(FIRST)], ids=lambda state: state.id)
def test_what_is_said_before_there_is_a_menu_promises_none(state: State) -> None:
    for name in (EventName.NOT_UNDERSTOOD, EventName.GREETING):
        for said in after(state, name)[1]:
            assert "HELLO" not in FLOWS.messages[said].text, said
