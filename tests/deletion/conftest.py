"""Households with a whole file, that ask to be deleted by text."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from guide_service.records import Household
from tests.console.conftest import Desk, desk, quick_passwords  # noqa: F401  (fixtures)
from tests.people import rows
from tests.recalls.conftest import House, house  # noqa: F401  (a fixture)


@pytest.fixture
def seat(desk: Callable[..., Desk]) -> Desk:  # noqa: F811
    return desk("vega", None, coordinator=True)


@pytest.fixture
def asked(house: Callable[..., House]) -> House:  # noqa: F811
    """Measured until a wall meets the limit, then "delete my data"."""
    begun = house().set_up("my brother Joe, 202-555-0177").until_ready()
    return begun.say("delete my data", "12", "1")


def home_id(asked: House) -> int:
    return int(rows(asked.service, Household)[0].id)
