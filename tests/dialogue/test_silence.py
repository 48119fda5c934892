"""When a silent household is asked how it stands: by what its silence is likely about, and never where it must not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from guide_service.dialogue.silence import OF_STAGE, Chase, SilenceDays, Silent, WaitsFor, chase
from guide_service.dialogue.stages import Stage
from tests.dialogue.world import larkwater

DAYS = SilenceDays(answer=3, work=5, drying=10, others=14)
MUD = Silent(WaitsFor.WORK, "mud_out", 0)


@pytest.mark.parametrize(
    ("waits_for", "first"),
    [(WaitsFor.ANSWER, 3), (WaitsFor.WORK, 5), (WaitsFor.DRYING, 10), (WaitsFor.OTHERS, 14)],
)
def test_what_takes_days_is_given_days_and_asked_once_more_after_as_many(waits_for: WaitsFor, first: int) -> None:
    silent = replace(MUD, waits_for=waits_for)
    assert chase(replace(silent, days=first - 1), DAYS) is None
    assert chase(replace(silent, days=first), DAYS) == Chase((0, first))


def test_a_household_at_rest_waits_for_what_its_stage_waits_for() -> None:
    resting = Silent(WaitsFor.STAGE, "dry", 9)
    assert chase(resting, DAYS) is None
    assert chase(replace(resting, days=10), DAYS) == Chase((0, 10))
    assert chase(replace(resting, stage="throw_out", days=5), DAYS) == Chase((0, 5))
    assert chase(replace(resting, stage="throw_out", days=13, asked_landlord=True), DAYS) is None


@pytest.mark.parametrize("silent", [
    Silent(WaitsFor.OFFICIALS, "safe_entry", 14),
    Silent(WaitsFor.STAGE, "safe_entry", 14),
    Silent(WaitsFor.WORK, "mud_out", 90, long_silent=True),
])  # fmt: skip
def test_whoever_must_stay_out_or_may_be_somebody_else_is_listed_and_not_texted(silent: Silent) -> None:
    assert chase(silent, DAYS) == Chase(())


@pytest.mark.parametrize("silent", [
    Silent(WaitsFor.NOTHING, "mud_out", 400),
    Silent(WaitsFor.STAGE, "afterwards", 400),
    Silent(WaitsFor.ANSWER, "afterwards", 400),
])  # fmt: skip
def test_what_is_closed_or_followed_up_otherwise_is_left_alone(silent: Silent) -> None:
    assert chase(silent, DAYS) is None


def test_every_stage_waits_for_something() -> None:
    assert set(OF_STAGE) == {"unknown", *map(str, Stage)}


def test_every_step_that_takes_hands_is_given_its_days_in_the_flows() -> None:
    """A state that offers "done" is a step, not a question: without a word of its own it would be asked after days
    that suit a question."""
    states = larkwater().flows.states.values()
    steps = {state.id for state in states if any(answer.key == "did" for answer in state.answers)}
    hasty = {state.id for state in states if state.id in steps and state.waits_for == WaitsFor.ANSWER}
    assert len(steps) > 20
    assert hasty == set()
