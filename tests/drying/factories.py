"""Short ways to write a household's readings in tests."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from guide_service.drying.terms import BAY_POINTS, Place, Point, Reading

START = dt.date(2031, 5, 1)


def bay(label: str = "K1", wall: str = "kitchen", **more: object) -> Place:
    return Place(label, wall, **more)  # type: ignore[arg-type]


def check(day: int, values: Sequence[float], place: str = "K1", **more: object) -> list[Reading]:
    """One visit at a bay: plate, low stud, mid stud in this order (a shorter list leaves points out)."""
    points: Sequence[Point] = BAY_POINTS
    return [reading(day, point, value, place, **more) for point, value in zip(points, values, strict=False)]


def reading(day: int, point: Point, value: float | None, place: str = "K1", **more: object) -> Reading:
    on = START + dt.timedelta(days=day)
    extra = "-".join(str(part) for part in more.values())
    base = {"id": f"{place}-{point}-{day}-{value}-{extra}", "check": f"visit-{day}"}
    return Reading(place=place, point=point, value=value, taken_on=on, **{**base, **more})  # type: ignore[arg-type]
