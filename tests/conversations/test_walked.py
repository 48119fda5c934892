"""How much of the flows the conversations walk by texts, in English and in Spanish. See ``walked``."""

from __future__ import annotations

import sys

import pytest

from guide_service.dialogue.flow_loader import load_flows
from guide_service.settings import FLOWS_DIR
from tests.conversations.walked import LANGUAGES, NO_TEXT, names_of, recorded

LEAST = {"en": 670, "es": 380}
"""Transitions that must be walked; to be raised with every conversation that is added."""
WALKED_WHOLE = ("closed.", "afterwards.")
"""States of which every transition that a text can cause is walked, in both languages but for ``ENGLISH_SO_FAR``."""
NOT_BY_TEXT = {
    "afterwards.rest always 2": "the look back comes by the clock; by a text it is only put off",
    "afterwards.look_back on mould 1": "a denial of mold is heard only while mold is asked about",
    "closed.signs on mould 1": "who sees no mold answers the question with no",
}
ENGLISH_SO_FAR = frozenset({"closed.signs yes", "afterwards.look_back on mould 2"})
"""Walked in English alone yet."""


def caused_by_a_text() -> set[str]:
    def event(name: str) -> str:
        words = name.split()
        return words[1] if words[0] == "anywhere" else words[2] if words[1] == "on" else ""

    return {name for name in names_of(load_flows(FLOWS_DIR)).values() if event(name) not in NO_TEXT}


def test_the_flows_are_walked_by_text(capsys: pytest.CaptureFixture[str]) -> None:
    wanted, taken = caused_by_a_text(), {language: set(names) for language, names in recorded().items()}
    in_neither = wanted - set().union(*taken.values())
    counts = ", ".join(f"{language} {len(taken[language] & wanted)}" for language in LANGUAGES)
    with capsys.disabled():
        sys.stdout.write(f"\nof {len(wanted)} transitions walked by text: {counts}; in neither {len(in_neither)}\n")
    assert [name for names in taken.values() for name in names if name not in wanted] == []
    assert {language: len(taken[language] & wanted) >= LEAST[language] for language in LANGUAGES} == {
        "en": True, "es": True,
    }  # fmt: skip


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_follows_a_closed_wall_is_walked_whole(language: str) -> None:
    missed = {name for name in caused_by_a_text() if name.startswith(WALKED_WHOLE)} - recorded()[language].keys()
    in_english_alone = ENGLISH_SO_FAR if language != "en" else frozenset()
    assert missed - NOT_BY_TEXT.keys() - in_english_alone == set()
