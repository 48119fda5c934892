"""Whoever is written to in one language asks, in its words, for another one."""

from __future__ import annotations

import pytest

from guide_service.dialogue.answers import understand
from guide_service.dialogue.events import Asked, EventName, Listening
from tests.dialogue.world import TODAY, larkwater

WISHES = [
    ("es", "en inglés por favor", "en"),
    ("es", "podemos hablar en inglés", "en"),
    ("es", "mejor en criollo", "ht"),
    ("es", "hablan tagalo", None),
    ("fr", "je préfère l'anglais", "en"),
    ("ht", "mwen pito angle", "en"),
    ("ht", "m pa pale angle", "ht"),
    ("vi", "xin nói tiếng anh", "en"),
    ("ar", "بالإنجليزية من فضلك", "en"),
    ("zh", "请用英语", "en"),
    ("so", "ingiriisi ku hadal", "en"),
]


@pytest.mark.parametrize(("language", "words", "wished"), WISHES)
def test_another_language_is_asked_for(language: str, words: str, wished: str | None) -> None:
    events = understand(words, Listening(language, Asked(), (), TODAY), larkwater().lexicons)
    assert [(event.name, event.value) for event in events] == [(EventName.LANGUAGE, wished)]
