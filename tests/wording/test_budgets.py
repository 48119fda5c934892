"""Room with the longest names a household may give: 2 segments, 3 at most; outside the small alphabet 4, 6 at most.

A name in letters outside the small alphabet makes every text that holds it a wide one, also in a language that is not.
"""

from __future__ import annotations

import pytest

from guide_service.dialogue.saying import Say
from guide_service.wording.longest import LONGEST_OWN_WORDS
from guide_service.wording.messages import DEFAULT_BUDGET, LARGEST_BUDGET
from guide_service.wording.own_formats import small_alphabet
from guide_service.wording.render import render
from guide_service.wording.room import WIDE, allowed_segments
from guide_service.wording.segments import segments
from tests.wording.every_language import LANGUAGES, MESSAGES, catalogues
from tests.wording.test_every_language import arguments

NAMES = {"latin": "N" * LONGEST_OWN_WORDS, "arabic": "\u0645" * LONGEST_OWN_WORDS}


def test_the_budgets_are_those_that_were_agreed() -> None:
    assert (DEFAULT_BUDGET, LARGEST_BUDGET) == (2, 3)
    assert {language: allowed_segments(2, language) for language in LANGUAGES} == {
        language: 2 if small_alphabet(language) else 4 for language in LANGUAGES
    }
    assert {allowed_segments(3, language) for language in LANGUAGES} == {3, 6}


@pytest.mark.parametrize("script", NAMES)
@pytest.mark.parametrize("language", LANGUAGES)
def test_every_text_keeps_its_room_with_the_longest_name(language: str, script: str) -> None:
    over = {}
    for message in MESSAGES.values():
        if message.printed:
            continue
        args = {
            name: value.replace(NAMES["latin"], NAMES[script]) if isinstance(value, str) else value
            for name, value in arguments(message.id, extreme=True).items()
        }
        for count in (1, 3) if message.plural else (None,):
            found = segments(render(Say(message.id, args, count), language, catalogues()))
            allowed = message.budget * (WIDE if found.encoding == "UCS-2" else 1)
            if found.count > allowed:
                over[message.id] = (found, allowed)
    assert over == {}
