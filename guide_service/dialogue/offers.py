"""Answers that are made from what is known: the county's areas, the household's walls and places."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from guide_service.dialogue.context import Context
from guide_service.dialogue.deeds_places import bare_walls
from guide_service.dialogue.labels import in_order
from guide_service.dialogue.pending import first_unknown
from guide_service.dialogue.saying import Say
from guide_service.drying.terms import BAY_POINTS, Place
from guide_service.wording.formats import own_name

Offered = Sequence[tuple[str, Say | str]]
MOST_OFFERED = 9
MORE_LANGUAGES = "more"
LANGUAGES_OF_A_PAGE = 7
"""Where the county's do not fit beside "another one": so many, then the key that turns the page."""


def _areas(sheet: Context) -> Offered:
    return [(id_, name) for id_, name in sheet.facts.county.areas]


def _languages(sheet: Context) -> Offered:
    """Each named in itself (CLDR), so that whoever reads it knows it; more than keys allow come in pages."""
    codes = sheet.facts.county.languages
    if len(codes) < MOST_OFFERED:
        return [(code, own_name(code)) for code in codes]
    first = int(str(sheet.slots.get("language_page", 0))) * LANGUAGES_OF_A_PAGE
    page = codes[first : first + LANGUAGES_OF_A_PAGE]
    return [*((code, own_name(code)) for code in page), (MORE_LANGUAGES, Say("label.more_languages"))]


def turn_language_page(sheet: Context) -> None:
    """On to the next languages, after the last ones back to the first."""
    pages = -(-len(sheet.facts.county.languages) // LANGUAGES_OF_A_PAGE)
    sheet.slots["language_page"] = (int(str(sheet.slots.get("language_page", 0))) + 1) % pages


def _walls(sheet: Context) -> Offered:
    return [(wall.id, wall.name) for wall in sheet.walls][:MOST_OFFERED]


def _places(sheet: Context) -> Offered:
    """What can be left out: places, and before them walls that were named and have none."""
    bare = [(wall.id, wall.name) for wall in bare_walls(sheet)]
    return [*bare, *_named_by_label(sheet.places)][:MOST_OFFERED]


def _followed(sheet: Context) -> Offered:
    return _named_by_label(sheet.followed())[:MOST_OFFERED]


def _named_by_label(places: Iterable[Place]) -> Offered:
    return [(label, label) for label in in_order(place.label for place in places)]


def _candidates(sheet: Context) -> Offered:
    """The places that readings may belong to: those of the wall that was named, else all that are followed."""
    group = first_unknown(sheet.slots)
    labels = group["labels"] if group else []
    return [(label, label) for label in labels if sheet.place(label)][:MOST_OFFERED] or _followed(sheet)


def _points(_sheet: Context) -> Offered:
    return [(str(point), Say(f"point.{point}")) for point in BAY_POINTS]


def _houses(sheet: Context) -> Offered:
    return list(sheet.facts.house.all)[:MOST_OFFERED]


OFFERS: dict[str, Callable[[Context], Offered]] = {
    "areas": _areas,
    "languages": _languages,
    "walls": _walls,
    "places": _places,
    "followed": _followed,
    "candidates": _candidates,
    "points": _points,
    "houses": _houses,
}
