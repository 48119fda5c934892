"""Which stored number a correction is about: the one that it names ("27 not 72"), the one whose digits it turns round,
the only one there is. Where that is not certain the point is asked, and nothing is changed meanwhile.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from guide_service.dialogue.check import point_of_slip
from guide_service.dialogue.context import ROUND_MAX_DAYS, Context
from guide_service.dialogue.events import PlaceNamed, ReadingHeard, ReadingsHeard, Unclear, WhyUnclear
from guide_service.drying.terms import BAY_POINTS, Reading

Placed = tuple[ReadingHeard, Reading | None]
"""A number with its place and point, and what it takes the place of."""


def put_right(sheet: Context, heard: ReadingsHeard) -> tuple[list[Placed], list[Unclear]]:
    """The items of a correction with what they put right, and those whose point must be asked.

    A correction of nothing (no numbers within a round) is taken as ordinary readings.
    """
    placed: list[Placed] = []
    unclear: list[Unclear] = []
    for item in _pointed(heard):
        found = _meant(sheet, item, heard)
        if isinstance(found, Unclear):
            unclear.append(found)
        elif found is None:
            placed.append((item, None))
        else:
            placed.append((replace(item, place=PlaceNamed(found.place, found.place), point=found.point), found))
    return placed, unclear


def _pointed(heard: ReadingsHeard) -> list[ReadingHeard]:
    """Three numbers of one place are its three points, as they are in every text."""
    items = list(heard.items)
    one_place = len({item.place.label if item.place else None for item in items}) == 1
    if one_place and len(items) == len(BAY_POINTS) and all(item.point is None for item in items):
        return [replace(item, point=point) for item, point in zip(items, BAY_POINTS, strict=True)]
    return items


def _meant(sheet: Context, item: ReadingHeard, heard: ReadingsHeard) -> Reading | Unclear | None:
    label = item.place.label if item.place else None
    if item.place is not None and label is None:
        return None  # of a place that is not known: asked as any other
    if label is None and heard.instead_of:
        return _taken_back(sheet, heard) or Unclear(WhyUnclear.NOT_A_READING, item.raw)
    rows = _candidates(sheet, label, heard.taken_on)
    if item.point is not None:
        return next((row for row in reversed(rows) if row.point == item.point), None)
    named = [row for row in rows if row.value in heard.instead_of]
    if len(named) == 1:
        return named[0]
    if len({row.place for row in rows}) == 1:
        slip = point_of_slip(item.value, {row.point: row for row in rows})
        if slip is not None:
            return next(row for row in rows if row.point == slip)
    turned = [row for row in rows if point_of_slip(item.value, {row.point: row}) is not None]
    if len(turned) == 1:
        return turned[0]
    if len(rows) < 2:
        return rows[0] if rows else None
    places = {row.place for row in rows}
    if len(places) > 1:
        return None  # whose number it is is asked first, then of which point
    place = places.pop()
    return Unclear(WhyUnclear.WHICH_POINT, item.raw, PlaceNamed(place, place), None, item.value)


def _taken_back(sheet: Context, heard: ReadingsHeard) -> Reading | None:
    """The only number of this check, of whatever place, that the text takes back."""
    lately = {row.id for row in sheet.facts.last_readings} | {
        row.id for row in sheet.facts.readings if row.taken_on == sheet.facts.today
    }
    rows = [row for row in sheet.facts.readings if row.id in lately and row.value in heard.instead_of]
    return rows[0] if len(rows) == 1 else None


def _candidates(sheet: Context, label: str | None, day: dt.date | None) -> list[Reading]:
    """Numbers of the last check of the place; of no place that is named those of this phone's last text."""
    since = sheet.facts.today - dt.timedelta(days=ROUND_MAX_DAYS)
    rows = sheet.facts.last_readings if label is None else sheet.facts.readings
    rows = tuple(row for row in rows if row.taken_on >= since and label in (None, row.place))
    last = day or max((row.taken_on for row in rows), default=None)
    newest = {(row.place, row.point): row for row in rows if row.taken_on == last}
    return list(newest.values())
