"""Where the new water went and what it smells like, answered in few words.

"Elsewhere" lets earlier numbers count again and "sewage" is no mold: each is taken only where nothing else is said.
"""

from __future__ import annotations

import pytest

from guide_service.dialogue.answers import understand
from guide_service.dialogue.events import EventName, Listening
from tests.dialogue.test_words_that_texts_name import FLOWS, LEXICONS, TODAY, asked_of

WHERE, SMELL = "new_water.where", "mould.smell"
MEANT = {
    (WHERE, "elsewhere"): {
        "en": ["elsewhere", "not in the walls", "walls stayed dry", "only the floor"],
        "es": ["en otra parte", "no en las paredes", "las paredes no se mojaron", "solo el piso"],
        "fr": ["ailleurs", "pas dans les murs", "les murs n'ont pas pris l'eau", "seulement le sol"],
        "ht": ["lot kote selman", "pa nan mi yo", "mi yo rete sek", "li pa antre nan mi yo"],
    },
    (WHERE, "walls"): {
        "en": ["in the walls", "behind the wall", "walls are not dry"],
        "es": ["en las paredes", "sí, también en las paredes", "las paredes se mojaron"],
        "fr": ["dans les murs", "oui dans les murs", "dans les murs aussi"],
        "ht": ["nan mi yo", "wi nan mi yo", "mi yo mouye"],
    },
    (SMELL, "musty"): {
        "en": ["musty", "like wet earth", "musty and muddy"],
        "es": ["a humedad", "tierra mojada", "a encierro"],
        "fr": ["le renferme", "terre mouillée"],
        "ht": ["imidite", "te mouye"],
    },
    (SMELL, "dirty"): {
        "en": ["like sewage", "toilet", "mud"],
        "es": ["a aguas negras", "baño", "lodo"],
        "fr": ["les égouts", "la boue", "toilettes"],
        "ht": ["egou", "twalet", "labou"],
    },
}
NEVER = {
    (WHERE, "elsewhere"): {
        "en": ["other room and the walls", "somewhere else and the walls too", "walls are not dry", "not sure"],
        "es": ["otro cuarto y las paredes", "en otra parte y en las paredes", "no sé si en las paredes"],
        "fr": ["ailleurs et dans les murs", "pas seulement ailleurs", "les murs sont pas secs", "oui dans les murs"],
        "ht": ["lòt chanm ak mi yo", "pa sèlman lòt kote", "mi yo pa sèk", "mi yo poko sèk"],
    },
    (SMELL, "dirty"): {
        "en": ["mud and musty", "not mud", "sewage or mold"],
        "es": ["lodo y moho", "no es lodo", "aguas negras y humedad"],
        "fr": ["la boue et le moisi", "pas la boue", "égouts et renfermé"],
        "ht": ["labou ak mwazi", "pa labou", "egou ak imidite"],
    },
}


def chosen(question: str, language: str, text: str) -> set[object]:
    asked = asked_of(FLOWS.states[question], language)
    heard = understand(text, Listening(language, asked, (), TODAY), LEXICONS)
    return {event.value for event in heard if event.name is EventName.CHOICE}


@pytest.mark.parametrize(("question", "key"), MEANT)
@pytest.mark.parametrize("language", ["en", "es", "fr", "ht"])
def test_a_few_words_are_the_answer(question: str, key: str, language: str) -> None:
    heard = {text: chosen(question, language, text) for text in MEANT[question, key][language]}
    assert {text: got for text, got in heard.items() if got != {key}} == {}


@pytest.mark.parametrize(("question", "key"), NEVER)
@pytest.mark.parametrize("language", ["en", "es", "fr", "ht"])
def test_what_says_more_is_never_the_answer_that_lets_things_rest(question: str, key: str, language: str) -> None:
    heard = {text: chosen(question, language, text) for text in NEVER[question, key][language]}
    assert {text: got for text, got in heard.items() if key in got} == {}


@pytest.mark.parametrize("text", ["PAS D'APPELS", "pas d appels", "pas dappels", "plus d appels", "sans appels"])
def test_calls_end_in_french_with_and_without_the_apostrophe(text: str) -> None:
    heard = understand(text, Listening("fr", asked_of(FLOWS.states[SMELL], "fr"), (), TODAY), LEXICONS)
    assert [(event.name, event.value) for event in heard] == [(EventName.CALLS, "none")]
