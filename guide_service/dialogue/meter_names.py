"""Which meter somebody's words mean: "county meter A3" and "a3" are both the meter A3."""

from __future__ import annotations

from guide_service.dialogue.answers.spelling import plain_words, stands_in


def names_meter(words: str, meter: str) -> bool:
    """Whether the name of a meter (its number, or its owner) stands in these words as whole words."""
    return stands_in(plain_words(meter), plain_words(words))
