"""Every message in every language found in locales/, with extreme arguments: whole, in its own words, within its room.

What a test must know of a language stands in ``languages/<code>.toml``.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from guide_service.dialogue.answers import load_lexicons, understand
from guide_service.dialogue.events import Asked, EventName, Expect, Listening, Offer
from guide_service.dialogue.saying import Argument, Say
from guide_service.wording.catalogue import Sourced, as_forms, catalogue_path, read_catalogue
from guide_service.wording.checking import CARRIER_KEYWORDS, TOLD_TO_PEOPLE
from guide_service.wording.commands import commands_of, lacking
from guide_service.wording.formats import direction
from guide_service.wording.gsm import BIDI_CONTROLS, GSM_SET
from guide_service.wording.longest import longest, typical
from guide_service.wording.maintenance import check
from guide_service.wording.own_formats import small_alphabet
from guide_service.wording.render import render
from guide_service.wording.template import filled, placeholders
from tests.wording.every_language import ENTRIES, FLOWS, LANGUAGES, LOCALES, MESSAGES, TRANSLATED, catalogues

COUNTS = (*range(13), 21, 100)
LEXICONS = load_lexicons(LOCALES, sorted({"en", *TRANSLATED}))
ENGLISH = re.compile(
    r"\b(?:the|and|you|your|with|of|is|are|it|not|what|which|when|house|walls?|mold|readings?|water|wood|dry|open|close"
    r"|skip|hello|help|person|office)\b"
)


def knows(language: str) -> dict[str, Any]:
    path = Path(__file__).with_name("languages") / f"{language}.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def texts(language: str) -> dict[str, tuple[str, ...]]:
    catalogue = read_catalogue(catalogue_path(LOCALES, language))
    return {str(e.context): as_forms(e.string) for e in catalogue if e.context in ENTRIES}


def words_of(text: str) -> str:
    return re.sub(r"%\(\w+\)s|%%", " ", text)


def arguments(message_id: str, extreme: bool) -> dict[str, Argument]:
    names = frozenset().union(*(placeholders(form) for form in ENTRIES[message_id].forms))
    return {name: (longest(name, message_id) or "") if extreme else typical(name) for name in names}


def heard(text: str, language: str, asked: Asked | None = None) -> list[tuple[EventName, object]]:
    listening = Listening(language, asked or Asked(), (), dt.date(2026, 5, 20))
    return [(event.name, event.value) for event in understand(text, listening, LEXICONS)]


@pytest.mark.parametrize("language", TRANSLATED)
def test_nothing_is_said_in_english(language: str) -> None:
    lacking = sorted(f"{m.context}: {m.why}" for m in catalogues().missing if m.language == language)
    assert lacking == []


@pytest.mark.parametrize("language", TRANSLATED)
def test_no_english_is_left_over(language: str) -> None:
    known, said = knows(language), texts(language)
    assert {c for c, entry in ENTRIES.items() if said[c] == entry.forms} - set(known["same"]) == set()
    latin = set(known["latin"])
    found = {
        c: [w for form in forms for w in ENGLISH.findall(words_of(form)) if w not in latin] for c, forms in said.items()
    }
    assert {context: words for context, words in found.items() if words} == {}


@pytest.mark.parametrize("extreme", [True, False], ids=["longest", "typical"])
@pytest.mark.parametrize("language", LANGUAGES)
def test_every_message_is_rendered_whole_and_sendable(language: str, extreme: bool) -> None:
    for message in MESSAGES.values():
        for count in COUNTS if message.plural else (None,):
            body = render(Say(message.id, arguments(message.id, extreme), count), language, catalogues())
            assert body.strip(), message.id
            assert "%(" not in body, message.id
            assert not set(body) & BIDI_CONTROLS, message.id
            assert all(c == "\n" or c.isprintable() for c in body), message.id
            if small_alphabet(language):
                assert not set(body) - GSM_SET, (message.id, set(body) - GSM_SET)


@pytest.mark.parametrize("language", TRANSLATED)
def test_places_room_forms_and_carrier_words_are_in_order(language: str) -> None:
    problems = check(FLOWS, LOCALES, [language]).problems
    assert [str(problem) for problem in problems if problem.language == language] == []


@pytest.mark.parametrize("language", TRANSLATED)
def test_every_figure_is_the_english_one(language: str) -> None:
    said = texts(language)
    wrong = {c: said[c] for c, e in ENTRIES.items() if len(e.forms) == 1 and figures(said[c][0]) != figures(e.forms[0])}
    assert wrong == {}


def figures(text: str) -> list[str]:
    return sorted(re.findall(r"[0-9]+", words_of(text)))


@pytest.mark.parametrize("language", TRANSLATED)
def test_a_command_means_what_it_means_in_english(language: str) -> None:
    commands = commands_of(LOCALES, language)
    assert {"READINGS", "PLACES", "STATUS", "WHY", "STOP", "START"} <= commands.keys()
    pairs = {(english, word): heard(word, language) for english, word in commands.items()}
    wrong = {word: got for (english, word), got in pairs.items() if got != heard(english, "en")}
    assert wrong == {}


@pytest.mark.parametrize("language", TRANSLATED)
def test_a_text_that_names_another_command_is_reported(language: str) -> None:
    entry, said = _with_a_command(language), texts(language)
    words = commands_of(LOCALES, language)
    assert not lacking(entry.forms, said[entry.context], words)
    assert lacking(entry.forms, ("",) * len(said[entry.context]), words)


def _with_a_command(language: str) -> Sourced:
    words = commands_of(LOCALES, language)
    return next(entry for entry in ENTRIES.values() if lacking(entry.forms, (), words))


@pytest.mark.parametrize("language", TRANSLATED)
def test_what_may_stand_in_no_text_stands_in_none(language: str) -> None:
    never = [re.compile(pattern, re.IGNORECASE) for pattern in knows(language)["never"]]
    assert never, "at least the word that would call a house safe"
    said = texts(language)
    assert {c: p.pattern for c, forms in said.items() for p in never if any(map(p.search, forms))} == {}


def labels(language: str) -> dict[str, str]:
    said = texts(language)
    return {c: filled(said[c][0], {"limit": "15.5"}) for c in ENTRIES if c.startswith(("label.", "point."))}


@pytest.mark.parametrize("language", TRANSLATED)
def test_an_answer_typed_out_is_that_answer(language: str) -> None:
    for context, label in labels(language).items():
        asked = Asked(Expect.CHOICE, (Offer("1", "that", (label,)),))
        assert heard(label, language, asked) == [(EventName.CHOICE, "that")], (context, label)


@pytest.mark.parametrize("language", TRANSLATED)
def test_no_answer_is_a_carrier_keyword_or_a_word_that_ends_or_alarms(language: str) -> None:
    for context, label in labels(language).items():
        assert label.upper().strip("¿?.") not in CARRIER_KEYWORDS - TOLD_TO_PEOPLE, context
        names = {name for name, _ in heard(label, language)}
        assert not names & {EventName.STOP, EventName.START, EventName.DANGER}, (context, label)


def test_a_line_right_to_left_begins_with_a_letter_of_its_own() -> None:
    """The first strong letter decides how a phone lays out the line."""
    latin = re.compile(r"(?m)^\s*[A-Za-z]")
    assert latin.search("شكرا\nK1 رطب")
    for language in filter(lambda each: direction(each) == "rtl", TRANSLATED):
        said = texts(language)
        assert {c: forms for c, forms in said.items() if any(map(latin.search, forms))} == {}, language
