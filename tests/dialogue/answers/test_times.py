"""A time of day as people text it."""

from __future__ import annotations

import datetime as dt

import pytest

from guide_service.dialogue.answers.times import read_time


@pytest.mark.parametrize(
    ("text", "hour", "minute"),
    [
        ("6pm", 18, 0), ("6 p.m.", 18, 0), ("6", 18, 0), ("9", 9, 0), ("18:30", 18, 30), ("7.30 pm", 19, 30),
        ("12 am", 0, 0), ("12pm", 12, 0), ("noon", 12, 0), ("6 in the morning", 6, 0), ("8 at night", 20, 0),
        ("las 6 de la tarde", 18, 0), ("las 10 de la mañana", 10, 0), ("mediodía", 12, 0), ("18h30", 18, 30),
    ],
)  # fmt: skip
def test_a_time_is_read(text: str, hour: int, minute: int) -> None:
    assert read_time(text) == dt.time(hour, minute)


@pytest.mark.parametrize("text", ["", "soon", "25", "9:75", "6 or 7", "2026"])
def test_no_time_is_guessed(text: str) -> None:
    assert read_time(text) is None
