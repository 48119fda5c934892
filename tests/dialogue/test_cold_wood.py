"""Where cold is what keeps low numbers from being sure, the answer names the cold."""

from __future__ import annotations

from dataclasses import replace

import pytest

from guide_service.dialogue.events import Event, EventName
from guide_service.dialogue.facts import Facts
from guide_service.dialogue.machine import Standing
from guide_service.dialogue.saying import Say
from tests.dialogue.world import Household, kitchen, larkwater, round_of


def low_numbers(temp_c: float | None) -> Facts:
    facts = round_of(round_of(kitchen(), 8, K1=(12, 11, 11), K2=(12, 11, 11)), 1, K1=(12, 11, 11), K2=(12, 11, 11))
    return replace(facts, readings=tuple(replace(reading, temp_c=temp_c) for reading in facts.readings))


def reasons(facts: Facts) -> set[str]:
    decision, _ = Household(Standing("home.rest", {"greeted": True}), facts).hears(
        larkwater().flows, (Event(EventName.WHY),)
    )
    found = {say.args["reason"].id for say in decision.says if isinstance(say.args.get("reason"), Say)}
    return {reason for reason in found if reason.startswith("reason.not_sure")}


@pytest.mark.parametrize(("temp_c", "reason"), [(1.0, {"reason.not_sure_cold"}), (20.0, set()), (None, set())], ids=str)
def test_cold_is_named_where_it_is_the_cause(temp_c: float | None, reason: set[str]) -> None:
    assert reasons(low_numbers(temp_c)) == reason
