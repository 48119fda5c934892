"""How much of the flows the conversations walk by texts, in English and in Spanish. See ``walked``."""

from __future__ import annotations

import sys

import pytest

from guide_service.dialogue.flow_loader import load_flows
from guide_service.settings import FLOWS_DIR
from tests.conversations.walked import LANGUAGES, NOT_BY_TEXT, may_come_by_text, recorded
from tests.dialogue.transitions import transitions_of

LEAST = {"en": 1_110, "es": 1_100}
"""Transitions that must be walked; to be raised with every conversation that is added."""
WALKED_WHOLE = (
    *("order.", "renter.", "check.", "meter.", "stall.", "mould.", "new_water."),
    *("confirming.", "closed.", "afterwards.", "deletion.", "silence."),
)
"""States of which every transition that a text can cause is walked in both languages."""


def caused_by_a_text() -> set[str]:
    return {name for name, _transition in transitions_of(load_flows(FLOWS_DIR)) if may_come_by_text(name)}


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
def test_these_states_are_walked_whole(language: str) -> None:
    missed = {name for name in caused_by_a_text() if name.startswith(WALKED_WHOLE)} - recorded()[language].keys()
    assert missed - NOT_BY_TEXT.keys() == set()
