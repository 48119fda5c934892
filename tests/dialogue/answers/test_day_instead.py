"""A day in answer to the reminder to measure, or as all that is said: the nearest that the words may mean."""

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
        ("next friday", (EventName.DATE, "2026-05-22")),
        ("friday next week", (EventName.DATE, "2026-05-29")),
        ("next week friday", (EventName.DATE, "2026-05-27")),
        ("next week", (EventName.DATE, "2026-05-27")),
        ("tomorrow or friday", (EventName.DATE, "2026-05-21")),
        ("yesterday", (EventName.LATER, "None")),
    ],
)
def test_a_day_instead_of_readings(text: str, wanted: tuple[EventName, str]) -> None:
    reminded = replace(situations("en")["idle"], asked=Asked(Expect.READINGS, question="check.due"))
    (event,) = understand(text, reminded, lexicons())
    assert (event.name, str(event.value)) == wanted
