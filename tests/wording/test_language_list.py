"""The list of languages, each named in itself: alone, as a name in another alphabet halves the room of its text."""

from __future__ import annotations

import pytest

from guide_service.dialogue.offers import MOST_OFFERED
from guide_service.dialogue.saying import Argument, Say
from guide_service.wording.formats import own_name
from guide_service.wording.longest import longest
from guide_service.wording.sms import compose
from tests.wording.every_language import ENTRIES, LANGUAGES, catalogues

MOST_SEGMENTS = 3
"""Of the list in any language: nine short lines."""


def said(language: str, own_text: bool) -> list[Say]:
    arguments: dict[str, Argument] = {name: longest(name) or "" for name in ("office", "emergency", "callback")}
    labels = [own_name(code) for code in LANGUAGES] + [Say("label.other_language")]
    assert len(labels) <= MOST_OFFERED
    offers = [Say("offer", {"number": n, "label": label}) for n, label in enumerate(labels, 1)]
    return [Say("welcome.intro", arguments), Say("welcome.language", own_text=own_text), *offers]


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_list_of_eight_languages_is_one_short_text(language: str) -> None:
    assert "welcome.language" in ENTRIES
    intro, languages = compose(said(language, own_text=True), language, catalogues())
    assert "Soomaali" not in intro.body
    assert [own_name(code) for code in LANGUAGES if own_name(code) not in languages.body] == []
    assert languages.segments <= MOST_SEGMENTS


def test_a_text_of_its_own_costs_less_than_one_that_it_shares() -> None:
    alone, shared = (compose(said("en", own_text), "en", catalogues()) for own_text in (True, False))
    assert sum(text.segments for text in alone) < sum(text.segments for text in shared)
