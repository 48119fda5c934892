"""Which wall "remove the hall floor" takes away: the one that is named, never another whose name it begins with."""

from __future__ import annotations

from dataclasses import replace

import pytest

from guide_service.drying.terms import Wall
from tests.dialogue.beginnings import households
from tests.dialogue.typed import hears

HALL, FLOOR, PANTRY = Wall("H", "hall"), Wall("F", "hall floor"), Wall("P", "pantry")


def left(text: str) -> set[str]:
    """Names of the walls that are left of three in which nothing was read."""
    home = households()["kitchen"]
    told = replace(home, facts=replace(home.facts, walls=(HALL, FLOOR, PANTRY), places=()))
    removed = {effect.letter for effect in hears(text, told).effects if getattr(effect, "removed", False)}
    return {wall.name for wall in told.facts.walls if wall.id not in removed}


@pytest.mark.parametrize(
    ("text", "gone"),
    [
        ("remove the hall floor", "hall floor"),
        ("remove the hall", "hall"),
        ("remove the pantry, keep the hall floor", "pantry"),
        ("remove the hall, the hall floor stays", "hall"),
    ],
)
def test_the_wall_that_is_named_is_removed(text: str, gone: str) -> None:
    assert left(text) == {"hall", "hall floor", "pantry"} - {gone}


def test_a_wall_that_was_read_is_asked_about() -> None:
    wet = households()["wet"]
    decision = hears("remove the kitchen", wet)
    assert decision.standing.state == "places.remove_which"
