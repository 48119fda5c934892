"""What a caller said or keyed in, said back before it counts."""

from __future__ import annotations

from collections.abc import Sequence

from guide_service.dialogue.events import Asked, Event, ReadingHeard, ReadingsHeard
from guide_service.dialogue.saying import Say
from guide_service.drying.terms import Qualifier

_COLOURS = frozenset({"green", "yellow", "red"})


def words_of(words: str, events: Sequence[Event], asked: Asked) -> Say:
    """Readings by place and number as they were understood; anything else in the caller's own words.

    Points are named where they are others than those that were just asked for, in their order: that saves half of the
    time of what is heard most often.
    """
    heard = next((event.value for event in events if isinstance(event.value, ReadingsHeard)), None)
    if heard is None or not heard.items:
        return Say("call.heard", {"words": words})
    as_asked = tuple(item.point for item in heard.items) == asked.points[: len(heard.items)]
    by_place: dict[str, list[Say]] = {}
    for item in heard.items:
        place = item.place.label or item.place.words if item.place is not None else ""
        by_place.setdefault(place, []).append(_value(item) if as_asked else _item(item))
    bare = tuple(by_place.pop("", ()))
    named = (Say("call.number_items", {"place": place, "values": tuple(v)}) for place, v in by_place.items())
    return Say("call.heard_readings", {"list": (*bare, *named)})


def _item(item: ReadingHeard) -> Say:
    value = _value(item)
    return value if item.point is None else Say("heard.at", {"point": Say(f"point.{item.point}"), "value": value})


def _value(item: ReadingHeard) -> Say:
    if item.value is None:
        return Say(f"heard.{item.colour}") if item.colour in _COLOURS else Say("heard.over_unsaid")
    if item.qualifier is Qualifier.ABOVE:
        return Say("heard.over", {"value": item.value})
    if item.qualifier is Qualifier.BELOW:
        return Say("heard.below", {"value": item.value})
    return Say("call.value", {"value": item.value})
