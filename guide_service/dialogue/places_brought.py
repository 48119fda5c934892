"""A place that comes with its readings: a bay of a known wall, the first places of a household, one told to be new."""

from __future__ import annotations

from guide_service.dialogue.check import Unplaced
from guide_service.dialogue.context import Context
from guide_service.dialogue.deeds_places import add_place, highest_number, start_wall
from guide_service.dialogue.labels import letter_of, number_of
from guide_service.drying.terms import Band, PlaceKind


def brought_along(sheet: Context, found: Unplaced) -> str | None:
    """The label of a place that is taken without a question; None where the household must be asked."""
    letter, number = letter_of(found.label or ""), number_of(found.label or "")
    if found.label and _has_bay(sheet, letter, number):
        return add_place(sheet, letter, number, PlaceKind.BAY, followed=_still_setting_up(sheet, letter))
    return None if sheet.facts.places else _first_place(sheet, found)


def make_place(sheet: Context, found: Unplaced, kind: PlaceKind) -> str:
    """A place of its own for the label or the words, on a new wall where there is none of that letter."""
    bays = None if kind == PlaceKind.BAY else 0
    letter = letter_of(found.label or "")
    if not letter or sheet.wall(letter) is None:
        letter = start_wall(sheet, letter or found.words, kind, bays)
    number = number_of(found.label or "") or highest_number(sheet, letter) + 1
    return add_place(sheet, letter, number, kind)


def _has_bay(sheet: Context, letter: str, number: int) -> bool:
    wall = sheet.wall(letter)
    return wall is not None and (wall.bays is None or 1 <= number <= wall.bays)


def _still_setting_up(sheet: Context, letter: str) -> bool:
    """A bay that first comes in the sweep before closing is not followed; in the first days it is."""
    followed = [place for place in sheet.followed() if place.wall == letter]
    verdicts = {v.place: v.band for v in sheet.assessment().verdicts}
    return not followed or not all(verdicts.get(place.label) == Band.DRY for place in followed)


def _first_place(sheet: Context, found: Unplaced) -> str:
    """Before anything was set up, the first text names the places: nobody is sent away to register first."""
    known = None if found.label else _label_of_words(sheet, found.words)
    return known or make_place(sheet, found, found.kind)


def _label_of_words(sheet: Context, words: str) -> str | None:
    wall = next((w for w in sheet.walls if w.name.casefold() == words.casefold()), None)
    return next((place.label for place in sheet.places if wall and place.wall == wall.id), None)
