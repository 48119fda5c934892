"""Deeds of setting up: walls and floors in the person's words, bays followed, names changed, places left out."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from guide_service.dialogue.answers.spelling import plain_words, where_stands
from guide_service.dialogue.context import Context
from guide_service.dialogue.effects import AddPlace, AddWall, Effect, UpdatePlace, UpdateWall
from guide_service.dialogue.events import Event, RoomsHeard
from guide_service.dialogue.labels import label_of, letter_for, letter_of, number_of
from guide_service.drying.terms import Exposure, Place, PlaceKind, Wall

FIRST_BAYS = 2
"""Followed where the person cannot tell which bays are wettest. County practice: at least two of a wall."""


def words_of(event: Event) -> str:
    """A name as it was given, whatever else was understood of it."""
    return str(event.value or "").strip()


def start_wall(sheet: Context, name: str, kind: PlaceKind, bays: int | None) -> str:
    """A new wall or floor with a letter of its own; returns the letter."""
    letter = letter_for(name, {wall.id for wall in sheet.walls} | sheet.facts.letters_used)
    sheet.walls.append(Wall(letter, name, bays))
    sheet.add(AddWall(letter, name, bays))
    sheet.slots["wall"] = {"letter": letter, "name": name, "kind": str(kind), "bays": bays}
    return letter


def add_place(sheet: Context, letter: str, number: int, kind: PlaceKind, *, followed: bool = True) -> str:
    label = label_of(letter, number)
    known = sheet.place(label)
    if known is None:
        sheet.places.append(Place(label, letter, kind, Exposure.UNKNOWN, followed=followed))
        sheet.add(AddPlace(label, letter, str(kind), followed))
    elif followed and not known.followed:
        sheet.places[sheet.places.index(known)] = replace(known, followed=True)
        sheet.add(UpdatePlace(label, followed=True))
    sheet.forget_assessment()
    return label


def _wall_now(sheet: Context) -> dict[str, object]:
    wall = sheet.slots.get("wall")
    return wall if isinstance(wall, dict) else {}


def _new_wall(sheet: Context) -> None:
    kind = sheet.event.kind or PlaceKind.BAY
    known = _known_wall(sheet, words_of(sheet.event)) if kind == PlaceKind.BAY else None
    if known is not None:
        sheet.slots["wall"] = {"letter": known.id, "name": known.name, "kind": str(kind), "bays": known.bays}
        return
    start_wall(sheet, words_of(sheet.event), kind, None if kind == PlaceKind.BAY else 0)


# --- several rooms named at once ----------------------------------------------------------------------------------


def waiting_rooms(sheet: Context) -> list[dict[str, object]]:
    """Rooms named in a list that are still to be set up, in the order named; without what was removed or done since."""
    rows = sheet.slots.get("rooms")
    letters = {wall.id for wall in sheet.walls}
    done = {place.wall for place in sheet.places}
    waiting = [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []
    return [row for row in waiting if "left" in row or (row["letter"] in letters and row["letter"] not in done)]


def _new_walls(sheet: Context) -> None:
    """A wall for each room of the list; "both bedrooms" waits for a name of each."""
    rows: list[dict[str, object]] = []
    for room in sheet.event.rooms:
        if room.count > 1:
            rows.append({"words": room.words, "left": room.count})
            continue
        kind = room.kind or PlaceKind.BAY
        known = _known_wall(sheet, room.words)
        letter = known.id if known else start_wall(sheet, room.words, kind, None if kind == PlaceKind.BAY else 0)
        rows.append({"letter": letter, "words": room.words, "kind": str(kind)})
    sheet.slots["rooms"] = [*rows, *_rest_of_rooms(sheet)]


def _rest_of_rooms(sheet: Context) -> list[dict[str, object]]:
    """What still waits, less the one of "both bedrooms" that was just named."""
    waiting = waiting_rooms(sheet)
    if waiting and "left" in waiting[0] and sheet.slots.get("state") == "places.room_one":
        left = waiting[0]["left"]
        assert isinstance(left, int)
        return [{**waiting[0], "left": left - 1}, *waiting[1:]] if left > 1 else waiting[1:]
    return waiting


def _take_room(sheet: Context) -> None:
    """The next room of the list is the wall that the questions are about."""
    row, *rest = waiting_rooms(sheet)
    wall = sheet.wall(str(row["letter"]))
    sheet.slots["wall"] = {
        "letter": row["letter"], "name": wall.name if wall else row["words"], "kind": row["kind"],
        "bays": wall.bays if wall else None,
    }  # fmt: skip
    sheet.slots["rooms"] = rest


def _new_wall_of_many(sheet: Context) -> None:
    sheet.slots["rooms"] = _rest_of_rooms(sheet)
    _new_wall(sheet)


def _drop_room(sheet: Context) -> None:
    sheet.slots["rooms"] = waiting_rooms(sheet)[1:]


def _add_rooms(sheet: Context) -> None:
    """Rooms told with their bays in one text: of each the first bays are followed, as where nobody can tell which."""
    heard = sheet.event.value
    labels: list[str] = []
    for room in heard.rooms if isinstance(heard, RoomsHeard) else ():
        known = _known_wall(sheet, room.name)
        if known is not None and any(place.wall == known.id for place in sheet.places):
            continue
        letter = known.id if known is not None else start_wall(sheet, room.name, PlaceKind.BAY, room.bays)
        if known is not None:
            _count_bays(sheet, letter, room.bays)
        labels += [add_place(sheet, letter, n, PlaceKind.BAY) for n in range(1, min(room.bays, FIRST_BAYS) + 1)]
    sheet.slots["wall"] = {"labels": labels}


def _count_bays(sheet: Context, letter: str, bays: int) -> None:
    sheet.walls = [replace(wall, bays=bays) if wall.id == letter else wall for wall in sheet.walls]
    sheet.add(UpdateWall(letter, bays=bays))


def _known_wall(sheet: Context, name: str) -> Wall | None:
    """The wall of that name: named again to tell more of it, not to make another."""
    wanted = {name.casefold(), name.casefold().removeprefix("the ")}
    found = next((wall for wall in sheet.walls if wall.name.casefold() in wanted), None)
    return found or next((wall for wall in sheet.walls if wall.id.casefold() == name.casefold()), None)


def _set_bays(sheet: Context) -> None:
    wall = _wall_now(sheet)
    bays = sheet.event.value
    assert isinstance(bays, int)
    wall["bays"] = bays
    _count_bays(sheet, str(wall.get("letter")), bays)


def _add_bays(sheet: Context) -> None:
    numbers = sheet.event.value
    _add_numbers(sheet, numbers if isinstance(numbers, tuple) else ())


def _add_first_bays(sheet: Context) -> None:
    bays = _wall_now(sheet).get("bays")
    most = bays if isinstance(bays, int) and bays > 0 else FIRST_BAYS
    _add_numbers(sheet, range(1, min(most, FIRST_BAYS) + 1))


def _add_numbers(sheet: Context, numbers: Iterable[int]) -> None:
    letter = str(_wall_now(sheet).get("letter"))
    for number in numbers:
        add_place(sheet, letter, number, PlaceKind.BAY)


def _add_spots(sheet: Context) -> None:
    wall = _wall_now(sheet)
    count = sheet.event.value
    assert isinstance(count, int)
    kind = PlaceKind(str(wall.get("kind")))
    for number in range(1, count + 1):
        add_place(sheet, str(wall.get("letter")), number, kind)


def _add_reference(sheet: Context) -> None:
    letter = start_wall(sheet, "dry wood", PlaceKind.REFERENCE, 0)
    add_place(sheet, letter, 1, PlaceKind.REFERENCE)


def _plate(treated: bool) -> Callable[[Context], None]:
    def mark(sheet: Context) -> None:
        letter = str(_wall_now(sheet).get("letter"))
        for place in [p for p in sheet.places if p.wall == letter]:
            sheet.places[sheet.places.index(place)] = replace(place, treated_plate=treated)
            sheet.add(UpdatePlace(place.label, treated_plate=treated))

    return mark


def bare_walls(sheet: Context) -> list[Wall]:
    """Walls without a place: named, and not set up."""
    with_places = {place.wall for place in sheet.places}
    return [wall for wall in sheet.walls if wall.id not in with_places]


def wall_named(sheet: Context) -> Wall | None:
    """The wall that the text names first, where nothing was ever read in it.

    Of names that begin alike the longest is meant ("remove the hall floor" is not the hall).
    """
    read = {letter_of(reading.place) for reading in sheet.facts.readings}
    words = plain_words(sheet.event.raw)
    where = [(where_stands(plain_words(wall.name), words), wall) for wall in sheet.walls]
    named = [(-at, len(wall.name), wall) for at, wall in where if at is not None]
    meant = max(named, key=lambda found: found[:2], default=None)
    return None if meant is None or meant[2].id in read else meant[2]


def take_away_wall(sheet: Context, wall: Wall) -> None:
    """The wall and its places; what was read there is the caller's business."""
    gone = [place for place in sheet.places if place.wall == wall.id]
    sheet.places = [place for place in sheet.places if place.wall != wall.id]
    sheet.walls = [each for each in sheet.walls if each.id != wall.id]
    sheet.slots["wall"] = {"letter": wall.id, "name": wall.name}
    sheet.forget_assessment()
    sheet.add(*(UpdatePlace(place.label, removed=True) for place in gone), UpdateWall(wall.id, removed=True))


def _remove_named(sheet: Context) -> None:
    wall = wall_named(sheet)
    if wall is not None:
        take_away_wall(sheet, wall)


def _drop_bare_wall(sheet: Context) -> None:
    """The room just named is not set up after all: going back takes it away."""
    letter = _wall_now(sheet).get("letter")
    for wall in bare_walls(sheet):
        if wall.id == letter:
            take_away_wall(sheet, wall)


def _choose(sheet: Context) -> None:
    sheet.slots["which"] = str(sheet.event.value)


def _rename_wall(sheet: Context) -> None:
    letter, name = str(sheet.slots.get("which")), words_of(sheet.event)
    sheet.walls = [replace(w, name=name) if w.id == letter else w for w in sheet.walls]
    sheet.slots["wall"] = {"letter": letter, "name": name}
    sheet.add(UpdateWall(letter, name=name))


def _remove_place(sheet: Context) -> None:
    label = str(sheet.slots.get("which"))
    bare = next((wall for wall in bare_walls(sheet) if wall.id == label), None)
    if bare is not None:
        take_away_wall(sheet, bare)
        sheet.slots["which"] = bare.name
        return
    effects: list[Effect] = [UpdatePlace(label, removed=True)]
    sheet.places = [place for place in sheet.places if place.label != label]
    letter = letter_of(label)
    if not any(place.wall == letter for place in sheet.places):
        sheet.walls = [wall for wall in sheet.walls if wall.id != letter]
        effects.append(UpdateWall(letter, removed=True))
    sheet.forget_assessment()
    sheet.add(*effects)


def highest_number(sheet: Context, letter: str) -> int:
    return max((number_of(place.label) for place in sheet.places if place.wall == letter), default=0)


DEEDS: dict[str, Callable[[Context], None]] = {
    "new_wall": _new_wall,
    "new_walls": _new_walls,
    "new_wall_of_many": _new_wall_of_many,
    "take_room": _take_room,
    "drop_room": _drop_room,
    "add_rooms": _add_rooms,
    "set_bays": _set_bays,
    "set_bays_unknown": lambda sheet: sheet.forget_assessment(),
    "add_bays": _add_bays,
    "add_first_bays": _add_first_bays,
    "add_spots": _add_spots,
    "add_reference": _add_reference,
    "plate_treated": _plate(True),
    "plate_plain": _plate(False),
    "choose": _choose,
    "rename_wall": _rename_wall,
    "remove_place": _remove_place,
    "remove_named_wall": _remove_named,
    "drop_bare_wall": _drop_bare_wall,
}
