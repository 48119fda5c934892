"""Households that measure with a meter of the county until a wall meets the limit, by texts, on each database."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from guide_service.clock import FixedClock
from guide_service.wiring import Service
from tests.console.conftest import desk, quick_passwords  # noqa: F401  (fixtures)
from tests.console.rows import text_from

METER = "A3"
ROUND = "K1 11 11 10, K2 11 10 10"


class House:
    """One phone that texts its way from hello to a measured kitchen."""

    def __init__(self, service: Service, number: str) -> None:
        self.service, self.number = service, number

    def say(self, *texts: str) -> House:
        for text in texts:
            text_from(self.service, self.number, text)
        return self

    def set_up(self, meter: str = f"the county's, number {METER}") -> House:
        """``meter``: what it answers to "whose meter is it"."""
        self.say("HELLO", "English", "1", "1", "Millrace", "12 Weir St", "places", "wood studs", "skip")
        self.say("places", "kitchen", "2", "1 2", "plain wood", "that is all", "there is none")
        return self.say("I have one", "two sharp pins", meter)

    def measure(self, numbers: str = ROUND) -> House:
        return self.say(numbers, "wood setting, pins", "it reads right")

    def until_ready(self) -> House:
        self.measure()
        assert isinstance(self.service.clock, FixedClock)
        self.service.clock.advance(days=4)
        return self.measure()


@pytest.fixture
def house(service: Service) -> Callable[..., House]:
    return lambda number="+12025550123": House(service, number)
