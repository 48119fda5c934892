"""Numbers said back as they were understood, so that a misread one is seen at once."""

from __future__ import annotations

from collections.abc import Iterable

from guide_service.dialogue.context import Context
from guide_service.dialogue.saying import Argument, Say
from guide_service.drying.terms import BAY_POINTS, Point, Qualifier, Reading


def heard(sheet: Context) -> list[Say]:
    """This turn's readings, what was put right among them, places that they brought in, and a day that is not today."""
    if not sheet.new_readings:
        return []
    says = [Say("correction.done")] if any(new.replaces for new in sheet.new_readings) else []
    says.append(Say("heard.list", {"list": by_place(new.reading for new in sheet.new_readings)}))
    says += _named(sheet)
    days = {new.reading.taken_on for new in sheet.new_readings} - {sheet.facts.today}
    says += [Say("heard.yesterday", {"date": day}) for day in sorted(days)]
    return says


def _named(sheet: Context) -> list[Say]:
    """Places that the text itself brought in, when the person used other words than our label."""
    before = {wall.id for wall in sheet.facts.walls}
    new = [place for place in sheet.places if place.wall not in before]
    rooms = {wall.id: wall.name for wall in sheet.walls}
    names = [(rooms.get(place.wall, place.wall), place.label) for place in new if rooms.get(place.wall) != place.wall]
    items = tuple(Say("heard.name", {"room": room, "place": label}) for room, label in names)
    return [Say("heard.named", {"list": items})] if items and sheet.new_readings else []


def by_place(readings: Iterable[Reading]) -> tuple[Say, ...]:
    """Each place with its numbers, in the order given."""
    rows: dict[str, list[Reading]] = {}
    for reading in readings:
        rows.setdefault(reading.place, []).append(reading)
    return tuple(Say("heard.place", {"place": label, "values": _values(of_it)}) for label, of_it in rows.items())


def _values(readings: list[Reading]) -> Argument:
    """ "22 19 17" for a whole bay in order, otherwise each number with its point."""
    if tuple(r.point for r in readings) == BAY_POINTS and all(r.qualifier == Qualifier.EXACT for r in readings):
        return Say("heard.three", {f"v{n}": number_said(r) for n, r in enumerate(readings, 1)})
    if len(readings) == 1 and readings[0].point in {Point.WOOD, Point.SURFACE}:
        return number_said(readings[0])
    return tuple(Say("heard.at", {"point": Say(f"point.{r.point}"), "value": number_said(r)}) for r in readings)


def number_said(reading: Reading) -> Argument:
    """A number as it is said back, with its qualifier; a colour where there was none."""
    if reading.value is None:
        return Say(f"heard.{reading.colour or 'green'}") if reading.colour else Say("heard.over_unsaid")
    return qualified(reading.value, reading.qualifier)


def qualified(value: float, qualifier: Qualifier) -> Argument:
    """A number of the scale, or that it was over or below what the meter shows."""
    if qualifier == Qualifier.ABOVE:
        return Say("heard.over", {"value": value})
    if qualifier == Qualifier.BELOW:
        return Say("heard.below", {"value": value})
    return value
