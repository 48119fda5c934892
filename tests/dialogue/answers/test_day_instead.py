"""A day in answer to the reminder to measure: that day, or "later" where the words are nobody's single day."""

from __future__ import annotations

from dataclasses import replace

import pytest

from guide_service.dialogue.answers import understand
from guide_service.dialogue.events import Asked, EventName, Expect
from tests.dialogue.answers.situations import lexicons, situations


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("friday", (EventName.DATE, "2026-05-22")),
        ("next friday", (EventName.LATER, "None")),
        ("next week friday", (EventName.LATER, "None")),
        ("next week", (EventName.LATER, "None")),
    ],
)
def test_a_day_instead_of_readings(text: str, wanted: tuple[EventName, str]) -> None:
    reminded = replace(situations("en")["idle"], asked=Asked(Expect.READINGS, question="check.due"))
    (event,) = understand(text, reminded, lexicons())
    assert (event.name, str(event.value)) == wanted
