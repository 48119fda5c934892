"""One event of every kind, with the values that make a difference: what the machine is explored with."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from guide_service.dialogue.events import (
    AirHeard,
    Danger,
    Event,
    EventName,
    PlaceNamed,
    ReadingHeard,
    ReadingsHeard,
    RoomHeard,
    RoomNamed,
    RoomsHeard,
    Unclear,
    WhyUnclear,
)
from guide_service.drying.terms import Material, PlaceKind, Point, Qualifier
from guide_service.turning import deciding
from tests.dialogue import whose_house
from tests.dialogue.world import TODAY, Household, larkwater

K1, K2 = PlaceNamed("K1", "K1"), PlaceNamed("K2", "K2")
BATHROOM, S1 = PlaceNamed(None, "bathroom"), PlaceNamed("S1", "S1")
PLAIN = frozenset(EventName) - {
    EventName.DANGER, EventName.LANGUAGE, EventName.TOPIC, EventName.READINGS, EventName.CORRECTION, EventName.MOULD,
    EventName.PLACES, EventName.METER, EventName.CHOICE, EventName.COUNT, EventName.NUMBER, EventName.BAYS,
    EventName.NAME, EventName.DATE, EventName.UNCLEAR, EventName.AIR, EventName.JOIN,
    EventName.REMIND_AT, EventName.BLOCK, EventName.TOLD,
}  # fmt: skip
"""Events without a value that matters."""


def _numbers(place: PlaceNamed | None, *values: float, **more: object) -> tuple[ReadingHeard, ...]:
    return tuple(ReadingHeard(place, None, value, raw=f"{value:g}", **more) for value in values)  # type: ignore[arg-type]


def readings() -> Iterator[ReadingsHeard]:
    yield ReadingsHeard(_numbers(K1, 22, 19, 17))
    yield ReadingsHeard(_numbers(K1, 11, 10, 10) + _numbers(K2, 11, 10, 10))
    yield ReadingsHeard(_numbers(None, 14))
    yield ReadingsHeard(_numbers(None, 14, 13, 12))
    yield ReadingsHeard(_numbers(K1, 14, 13, 12, 11, 10))
    yield ReadingsHeard(_numbers(BATHROOM, 21, 20))
    yield ReadingsHeard(_numbers(PlaceNamed("K9", "K9"), 12) + _numbers(S1, 17))
    yield ReadingsHeard(_numbers(K1, 30, qualifier=Qualifier.ABOVE))
    yield ReadingsHeard(_numbers(K1, 6, qualifier=Qualifier.BELOW))
    yield ReadingsHeard(_numbers(K1, 14, material=Material.DRYWALL))
    yield ReadingsHeard(
        (ReadingHeard(K1, None, None, colour="green"), ReadingHeard(K2, Point.PLATE, None, colour="red"))
    )
    yield ReadingsHeard(_numbers(K2, 13, 12, 12), taken_on=TODAY - dt.timedelta(days=1))
    yield ReadingsHeard(_numbers(K1, 18), (Unclear(WhyUnclear.JUMP, "45", K2, Point.PLATE, 45.0),), temp_c=20.0)


def unclear() -> Iterator[Unclear]:
    for why in WhyUnclear:
        yield Unclear(why, "145", K1, Point.PLATE, 14.5)
        yield Unclear(why, "145")
    yield Unclear(WhyUnclear.NO_DECIMAL, "145", suggestion=14.5)
    yield Unclear(WhyUnclear.NOT_A_READING, "2", suggestion=2.0)
    yield Unclear(WhyUnclear.WHICH_PLACE, "B 22", BATHROOM, items=_numbers(BATHROOM, 22), labels=("K1", "K2"))
    yield Unclear(WhyUnclear.WHICH_PLACE, "K1 22", PlaceNamed(None, "K1"), items=_numbers(K1, 22))


def topics() -> list[str]:
    """Every question in free words that has an answer."""
    return sorted(id_.removeprefix("topic.") for id_ in larkwater().flows.messages if id_.startswith("topic."))


def everything() -> list[Event]:
    """Events that need no question to be open."""
    values: list[tuple[EventName, list[object]]] = [
        (EventName.DANGER, [*Danger]),
        (EventName.LANGUAGE, ["es", "en", None]),
        (EventName.TOPIC, topics()[::12]),
        (EventName.READINGS, [*readings()]),
        (EventName.CORRECTION, list(readings())[:4]),
        (EventName.MOULD, ["seen", "smelt", "smell", "none"]),
        (EventName.PLACES, ["add", "rename", "remove", None]),
        (EventName.METER, ["borrow", "have"]),
        (
            EventName.TOLD,
            [
                *("role.contractor", "role.renter", "water.sewage", "walls.open", "risk.yes", "flooded.now"),
                *("area.millrace", "address.14 River St", "house.manufactured"),
            ],
        ),
        (EventName.HELP, ["lost"]),
        (EventName.COUNT, [0, 1, 2, 61]),
        (EventName.NUMBER, [14.5, 17.0, 3.0, 1965.0, 1994.0]),
        (EventName.BLOCK, [15.5, 17.0, 3.0]),
        (EventName.BAYS, [(1, 2), (99,), ()]),
        (EventName.NAME, ["pantry", PlaceNamed("K1", "K1"), "7"]),
        (EventName.DATE, [TODAY - dt.timedelta(days=3), TODAY + dt.timedelta(days=2), TODAY + dt.timedelta(days=60)]),
        (
            EventName.AIR,
            [AirHeard(20.0, 70.0), AirHeard(outdoor_temp_c=12.0, outdoor_rh=60.0), AirHeard(indoor_rh=95.0)],
        ),
        (EventName.UNCLEAR, [*unclear()]),
        (EventName.SILENCE_DUE, [0, 1]),
        (EventName.CALLS, ["none"]),
        (EventName.THANKS, ["ok"]),
        (EventName.CHECK, ["setting"]),
    ]
    plain = [Event(name, "smelt" if name is EventName.MOULD else None, "so") for name in EventName if name in PLAIN]
    plain.append(Event(EventName.NAME, "14 River St", "14 River St", street=True))
    plain.append(Event(EventName.NAME, "hall floor", "hall floor", PlaceKind.SUBFLOOR))
    both, floor = RoomNamed("both bedrooms", None, 2), RoomNamed("hall floor", PlaceKind.SUBFLOOR)
    for rooms in ((both, RoomNamed("den"), floor), (floor, RoomNamed("den"))):
        words = ", ".join(room.words for room in rooms)
        plain.append(Event(EventName.NAME, words, words, rooms=rooms))
    in_words = [
        Event(EventName.UNDO, "water", "false alarm"),
        *(Event(EventName.PLACES, "remove", f"remove the {room}") for room in ("kitchen", "pantry", "hall floor")),
        *(Event(EventName.PLACES, RoomsHeard((RoomHeard(room, 2),)), room) for room in ("kitchen", "attic")),
    ]
    valued = [Event(name, value, "so") for name, rows in values for value in rows]
    return [*plain, *whose_house.events(), *valued, *in_words]


def leading_on() -> list[Event]:
    """Those that mostly lead to another state, for walking far."""
    one_each = {event.name: event for event in reversed(everything()) if event.name in _LEADING_ON}
    return [*one_each.values(), Event(EventName.CALLS, "none", "no calls")]


_LEADING_ON = frozenset({
    EventName.SKIP, EventName.DONE, EventName.LATER, EventName.BACK, EventName.GREETING, EventName.CHECK,
    EventName.PLACES, EventName.METER, EventName.MOULD, EventName.CLOSED, EventName.READINGS, EventName.CORRECTION,
    EventName.UNCLEAR, EventName.NAME, EventName.COUNT, EventName.BAYS, EventName.DATE, EventName.CHECK_DUE,
    EventName.NUDGE_DUE, EventName.LOOK_BACK, EventName.JOIN, EventName.FILE, EventName.DELETION, EventName.REVOKE,
    EventName.HOUSE, EventName.KEEP, EventName.CONFIRM_DUE, EventName.SILENCE_DUE, EventName.CALLS,
})  # fmt: skip


def answers(household: Household) -> list[Event]:
    """The offered answers of the open question, and the short words that come in answer to any question."""
    keys = [offer.key for offer in household.standing.asked.offers]
    return [Event(EventName.CHOICE, key, key) for key in dict.fromkeys([*keys, "yes", "no", "unsure"])]


def heard(text: str, household: Household) -> tuple[Event, ...]:
    """A text as the service understands it in this household's place."""
    return deciding.heard(text, household.facts, household.standing, larkwater().lexicons)[1]
