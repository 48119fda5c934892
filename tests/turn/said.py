"""What people text, for tests that let anything be said: the sentences of the scripts, half-words, noise."""

from __future__ import annotations

from pathlib import Path

from hypothesis import strategies as st

SCRIPTS = Path(__file__).parents[1] / "conversations"


def of_the_scripts() -> list[str]:
    lines = [line for path in sorted(SCRIPTS.rglob("*.txt")) for line in path.read_text(encoding="utf-8").splitlines()]
    return sorted({line[2:] for line in lines if line.startswith("> ") and len(line) < 120})


SHORT = [
    "1",
    "2",
    "3",
    "4",
    "5",
    "0",
    "yes",
    "no",
    "not sure",
    "ok",
    "skip",
    "done",
    "back",
    "more",
    "next",
    "why",
    "y",
    "n",
]
CHECKS = [
    "K1 22 19 17", "K1 11 10 10", "K2 11 10 10", "K1 11 10 10, K2 11 10 10", "K1 over 30", "K1 below 6", "K1 green",
    "drywall 14", "14", "14 13 12", "145", "-3", "K9 20", "kitchen 22 19 17, hall 12", "no, K1 was 12", "undo",
    "yesterday K1 15 14 14", "readings", "status", "temp 70F", "wood setting, pins", "it reads right",
]  # fmt: skip
WEIGHTY = [
    "STOP", "please stop texting me", "START", "I see mold", "it smells moldy", "gas smell in the kitchen",
    "he got a shock and is not breathing", "person", "we closed the wall", "it flooded again", "places", "meter",
    "wrong number", "Automatic reply: out of office", "friday", "español por favor",
]  # fmt: skip

people_text = st.one_of(
    st.sampled_from(SHORT),
    st.sampled_from(CHECKS),
    st.sampled_from(WEIGHTY),
    st.sampled_from(of_the_scripts()),
    st.text(max_size=60),
    st.tuples(st.sampled_from(WEIGHTY + CHECKS), st.sampled_from(SHORT + CHECKS)).map(". ".join),
)
