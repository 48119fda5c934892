"""What a turn looks up of a house, typed alike on both databases."""

from __future__ import annotations

import datetime as dt

from guide_service.records.loading import Known, load_by_phone
from tests.people import NUMBER
from tests.turn.conftest import Phones
from tests.turn.test_at_once import SET_UP


def looked_up(phones: Phones) -> Known:
    with phones.service.engine.connect() as connection:
        known = load_by_phone(connection, phones.service.sealer.phone_key(NUMBER))
    assert known is not None
    return known


def test_a_phone_that_was_never_heard_is_nothing(phones: Phones) -> None:
    with phones.service.engine.connect() as connection:
        assert load_by_phone(connection, phones.service.sealer.phone_key(NUMBER)) is None


def test_lists_come_in_order_with_their_types(phones: Phones) -> None:
    for text in (*SET_UP, "K2 21 18 16", "K1 22.5 19 17"):
        phones.say(text)
    phones.clock.advance(days=5)
    phones.say("K1 20 18 16")
    known = looked_up(phones)
    assert [(place.label, place.followed, place.removed_at) for place in known.places] == [
        ("K1", True, None),
        ("K2", True, None),
    ]
    assert [visit.taken_on for visit in known.visits] == [dt.date(2026, 5, 20), dt.date(2026, 5, 25)]
    assert [reading.value for reading in known.readings] == [21.0, 18.0, 16.0, 22.5, 19.0, 17.0, 20.0, 18.0, 16.0]
    first = known.readings[0]
    assert (type(first.value), type(first.resolution), first.confirmed) == (float, float, True)
    assert [reading.reading_id for reading in known.readings] == sorted(r.reading_id for r in known.readings)
    assert {reading.visit_id for reading in known.readings} == {visit.visit_id for visit in known.visits}


def test_only_what_stands_is_looked_up(phones: Phones) -> None:
    for text in (*SET_UP, "K1 22 19 17", "undo", "person"):
        phones.say(text)
    known = looked_up(phones)
    assert known.readings == []
    assert known.escalations == {"person": "waiting"}
