"""Messages as people write them, and how many of them are understood, asked again, or misunderstood."""

from __future__ import annotations

import sys
from collections import Counter

import pytest

from tests.dialogue.answers.situations import LANGUAGES, corpus, judged

LEAST_UNDERSTOOD = 0.95
"""Share of the corpora that must be understood as wanted (our target)."""
FEWEST = {
    "en": 400,
    "en_asked": 95,
    "en_fresh": 200,
    "en_second": 100,
    "en_third": 70,
    "en_fourth": 67,
    "es": 250,
    "es_asked": 70,
    "es_fresh": 100,
    "es_second": 67,
    "so": 500,
    "so_fresh": 60,
}
"""Messages that each corpus holds at least."""
LEAST_OF_A_LANGUAGE = 60
CORPORA = {**dict.fromkeys(LANGUAGES, LEAST_OF_A_LANGUAGE), **FEWEST}
"""Every language found in locales/ has a corpus of its own: ``data/<language>.toml``."""


@pytest.mark.parametrize("name", CORPORA)
def test_real_looking_messages_are_understood_and_no_reading_is_wrong(name: str, capsys) -> None:
    results = [judged(message) for message in corpus(name)]
    counts = Counter(result.outcome for result in results)
    missed = [
        f"  {result.outcome}: [{result.message.situation}] {result.message.text!r} wanted "
        f"{'|'.join(result.message.wanted)}, got {result.got}"
        for result in results
        if result.outcome != "understood"
    ]
    with capsys.disabled():
        shares = ", ".join(f"{name} {count} ({count / len(results):.1%})" for name, count in counts.most_common())
        summary = f"{name}: {len(results)} messages: {shares}; wrong readings {counts['wrong reading']}"
        sys.stdout.write("\n".join(["", summary, *missed, ""]))
    assert counts["wrong reading"] == 0, missed
    assert len(results) >= CORPORA[name]
    assert counts["understood"] >= LEAST_UNDERSTOOD * len(results), missed
