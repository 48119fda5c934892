"""Assess the readings of one household, with places and walls made up where a test does not care."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence

import pytest
from hypothesis import settings

from guide_service.drying.assess import assess
from guide_service.drying.assessment import Assessment
from guide_service.drying.policy import Policy
from guide_service.drying.terms import Air, Circumstances, Place, PlaceKind, Reading, Wall
from tests.drying.factories import START, bay

# Time limits of single examples fail on a busy machine and say nothing of the science.
settings.register_profile("calm", deadline=None)
settings.load_profile("calm")

Run = Callable[..., Assessment]


@pytest.fixture
def run() -> Run:
    """Assess readings of one household; places and walls are made up when they are not given."""

    def run_it(
        readings: Sequence[Reading],
        day: int | None = None,
        places: Sequence[Place] | None = None,
        walls: Sequence[Wall] | None = None,
        policy: Policy | None = None,
        air: Air | None = None,
        **circumstances: object,
    ) -> Assessment:
        labels = dict.fromkeys(one.place for one in readings)
        places = places if places is not None else [bay(label) for label in labels]
        bays = sum(place.kind is PlaceKind.BAY for place in places)
        walls = walls if walls is not None else [Wall("kitchen", "Kitchen, north", bays)]
        today = START + dt.timedelta(days=day) if day is not None else max(one.taken_on for one in readings)
        return assess(
            places,
            walls,
            readings,
            policy=policy or Policy(),
            air=air or Air(),
            circumstances=Circumstances(**circumstances),  # type: ignore[arg-type]
            today=today,
        )

    return run_it
