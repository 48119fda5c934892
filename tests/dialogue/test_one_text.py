"""Readings and what forbids closing in one text: the wall is not called ready before the rest of the text is heard."""

from __future__ import annotations

import pytest

from guide_service.dialogue.events import EventName
from tests.dialogue.beginnings import households
from tests.dialogue.everything_said import heard
from tests.dialogue.world import larkwater

DRY = "K1 11 10 10, K2 11 10 10"
READY = {"ready.wall", "ready.checklist"}


def said(text: str) -> tuple[set[str], set[EventName]]:
    household = households()["ready"]
    events = heard(text, household)
    decision, _ = household.hears(larkwater().flows, events)
    return {say.id for say in decision.says}, {event.name for event in events}


def test_the_readings_alone_are_ready() -> None:
    ids, events = said(DRY)
    assert ids >= READY
    assert events == {EventName.READINGS}


@pytest.mark.parametrize(
    ("rest", "event"),
    [
        (" and theres black mold on the studs", EventName.MOULD),
        (". it smells musty in there", EventName.MOULD),
        (" and water came in again last night", EventName.NEW_WATER),
    ],
)
def test_with_mould_or_new_water_in_the_same_text_they_are_not(rest: str, event: EventName) -> None:
    ids, events = said(DRY + rest)
    assert events == {EventName.READINGS, event}
    assert not ids & READY
