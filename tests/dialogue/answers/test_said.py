"""Texts in the middle of things, judged by what comes of them: understood, asked again, wrong; wrong readings: none."""

from __future__ import annotations

import sys
from collections import Counter

import pytest

from tests.dialogue.answers.said import judged_said, said_corpus

LEAST_UNDERSTOOD = 0.9
FEWEST = (
    {"en": 100, "es": 100}
    | dict.fromkeys(("en_second", "es_second", "en_third", "es_third"), 60)
    | {"en_fourth": 70, "es_fourth": 50, "en_fifth": 60, "es_fifth": 30}
    | dict.fromkeys(("en_mended", "es_mended"), 30)
    | dict.fromkeys(("ar_mended", "fr_mended", "ht_mended", "so_mended", "vi_mended", "zh_mended"), 6)
    | dict.fromkeys(("ar", "fr", "ht", "so", "vi", "zh"), 40)
)


@pytest.mark.parametrize("name", FEWEST)
def test_what_comes_of_a_text_in_the_middle_of_things(name: str, capsys) -> None:
    results = [judged_said(said) for said in said_corpus(name)]
    counts = Counter(result.outcome for result in results)
    missed = [
        f"  {result.outcome}: [{result.message.situation}] {result.message.text!r}\n      wanted "
        f"{result.message.wanted[0]}\n      got {result.got}"
        for result in results
        if result.outcome != "understood"
    ]
    with capsys.disabled():
        shares = ", ".join(f"{name} {count} ({count / len(results):.1%})" for name, count in counts.most_common())
        sys.stdout.write("\n".join(["", f"said_{name}: {len(results)} messages: {shares}", *missed, ""]))
    assert counts["wrong reading"] == 0, missed
    assert counts["wrong"] == 0, missed
    assert len(results) >= FEWEST[name]
    assert counts["understood"] >= LEAST_UNDERSTOOD * len(results), missed
