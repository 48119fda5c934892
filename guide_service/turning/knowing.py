"""From rows to the facts of a turn: frozen, in the words of the dialogue and the science."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from guide_service.dialogue.context import ROUND_MAX_DAYS
from guide_service.dialogue.events import Asked, Expect, Listening, Offer, PlaceKnown
from guide_service.dialogue.facts import CheckFacts, Facts
from guide_service.dialogue.guards_order import SMELL_OPEN
from guide_service.dialogue.house_facts import CodeHeard, HouseFacts
from guide_service.dialogue.machine import Standing
from guide_service.drying.terms import (
    Circumstances,
    Exposure,
    Material,
    Mode,
    Place,
    PlaceKind,
    Point,
    Qualifier,
    Reading,
    SelfCheck,
    Wall,
)
from guide_service.followup.quiet_hours import next_office_hour
from guide_service.records.loading import Known
from guide_service.turning.naming import house_facts
from guide_service.weather import air_of
from guide_service.wiring import Service
from guide_service.wording.recorded import unspoken

# looking a member up is many times cheaper than asking the enumeration for it, and a history holds hundreds
_POINT = {str(member): member for member in Point}
_QUALIFIER = {str(member): member for member in Qualifier}
_MATERIAL = {str(member): member for member in Material}
_MODE = {str(member): member for member in Mode}
_SELF_CHECK = {str(member): member for member in SelfCheck}
STALE_AFTER = dt.timedelta(days=14)
"""An answer that comes later than this is a new text. Our choice: the age at which readings count no more."""
INTRODUCTION = "welcome."
PROVED_IN, CHECKING, AWAITS_READINGS, AT_REST, STOPPED = "file.", "check.", "check.due", "home.rest", "stopped"
ABOUT_MOULD = ("mould.", "afterwards.look_back", "closed.signs")
"""Beginnings of the ids of states that ask about mould, or about its signs in a closed wall."""
FUMES_LAST_DAYS = 1
"""A headache on the day on which gas or exhaust was told of, or on the day after, is taken for its work. Our choice:
the figures of the sources are hours."""
_WAITED = frozenset({"unclear", "unknown", "push", "pushed", "skipped", "round", "block_shown"})
JUMP_WITHIN_DAYS = 8
"""A value may have changed by anything after longer than this: it is no jump then. Our rule."""


def facts_of(
    service: Service,
    known: Known | None,
    now: dt.datetime,
    heard: CodeHeard = CodeHeard.NONE,
    houses: tuple[tuple[str, str], ...] = (),
) -> Facts:
    """Everything a turn may decide on. ``known`` is None for a phone that was never heard."""
    _newest_rules(service, known)
    area = known.who.area if known else None
    zone = service.county.zone(area)
    today = now.astimezone(zone).date()
    opens = next_office_hour(now, zone, service.county.office_of(area))
    opens_there = opens.astimezone(zone)
    outdoor = service.weather.outdoor(area, today)
    about: dict[str, Any] = {
        "county": service.county_facts,
        "unspoken": unspoken(service.locales, service.county.languages),
        "policy": service.policy(),
        "today": today,
        "office_open": opens == now,
        "office_opens": (opens_there.date(), opens_there.time()),
    }
    language = service.county.languages[0]
    if known is None or known.who.household_id is None:
        tries = known.who.code_tries if known and known.who.code_tried_on == today else 0
        stopped = known is not None and known.who.opted_out_at is not None
        return Facts(
            **about,
            air=outdoor,
            language=language,
            opted_out=stopped,
            house=HouseFacts(tries=tries, heard=heard, all=houses),
        )
    who = known.who
    readings = _readings(known)
    return Facts(
        **about,
        language=who.language or language,
        role=who.role or "unknown",
        consented=who.consented_at is not None,
        opted_out=who.opted_out_at is not None,
        area=area,
        address=who.address,
        stage=who.stage or "unknown",
        household=who.facts or {},
        air=air_of((who.facts or {}).get("air"), outdoor, today),
        walls=_walls(known.places),
        letters_used=frozenset(row.letter for row in known.places),
        places=_places(known.places),
        readings=readings,
        last_readings=_last(known, readings),
        checks={row.taken_on: CheckFacts(_MODE[row.visit_mode], _SELF_CHECK[row.self_check]) for row in known.visits},
        recalls=service.recalls.of_household(who.household_id, who.facts or {}),
        recalled_checks={row.taken_on: str(row.visit_recall) for row in known.visits if row.visit_recall is not None},
        circumstances=_circumstances(known),
        next_check_on=who.next_check_on,
        escalations=known.escalations,
        house=house_facts(service, known, now, today, heard, houses),
    )


def _newest_rules(service: Service, known: Known | None) -> None:
    """The version in force was looked up with the file; only for a phone without one it is asked for."""
    if known is None:
        service.in_force.look()
    else:
        service.in_force.seen(known.who.policy_version)


def listening_of(facts: Facts, standing: Standing) -> Listening:
    """What the text is understood against: the open question and the household's places with their last values."""
    names = {wall.id: wall.name for wall in facts.walls}
    last: dict[str, dict[Point, float]] = {}
    today: dict[str, dict[Point, float]] = {}
    flooded = facts.circumstances.flooded_again_on
    for reading in facts.readings:
        lately = (facts.today - reading.taken_on).days <= JUMP_WITHIN_DAYS
        void = flooded is not None and reading.taken_on <= flooded
        if lately and not void and reading.value is not None and reading.qualifier == Qualifier.EXACT:
            check = today if reading.taken_on == facts.today else last
            check.setdefault(reading.place, {})[reading.point] = reading.value
    places = tuple(
        PlaceKnown(
            place.label,
            place.wall,
            names.get(place.wall, place.wall),
            place.kind,
            last.get(place.label, {}),
            today.get(place.label, {}),
        )
        for place in facts.places
    )
    return Listening(
        facts.language,
        standing.asked,
        places,
        facts.today,
        facts.opted_out,
        first_contact=standing.state == "welcome.new",
        introducing=standing.state.startswith(INTRODUCTION),
        areas=facts.county.areas,
        letters=frozenset(wall.id for wall in facts.walls),
        latest=_latest(facts),
        about_mould=standing.state.startswith(ABOUT_MOULD),
        fumes=_fumes_lately(standing, facts.today),
    )


def _latest(facts: Facts) -> tuple[tuple[str, Point, float], ...]:
    """The last text's numbers, for so long as a check may take, and all others of today."""
    lately = facts.today - dt.timedelta(days=ROUND_MAX_DAYS)
    last = [row for row in facts.last_readings if row.taken_on >= lately]
    rows = [*last, *(row for row in facts.readings if row.taken_on == facts.today)] if last else []
    return tuple((row.place, row.point, row.value) for row in rows if row.value is not None)


def _fumes_lately(standing: Standing, today: dt.date) -> bool:
    """By the day and not the hour: when in doubt it is a danger."""
    on = standing.slots.get("fumes_on")
    return isinstance(on, str) and (today - dt.date.fromisoformat(on)).days <= FUMES_LAST_DAYS


def standing_of(known: Known | None, initial: str, now: dt.datetime) -> Standing:
    """Where the conversation stands. What was asked weeks ago is asked afresh: it swallows no new text."""
    if known is None or known.who.contact_id is None or known.joining:
        greeted = known is not None and known.who.consented_at is not None
        return Standing(initial, {"greeted": True, "language_known": True} if greeted else {})
    if known.who.state is None:
        return Standing(initial)
    if known.who.state == STOPPED and known.who.opted_out_at is None:
        return Standing(AT_REST, known.who.slots or {})  # begun again for another house: this one is not mute
    stands = Standing(known.who.state, known.who.slots or {}, asked_from(known.who.asked or {}))
    long_ago = known.who.talked_at is not None and now - known.who.talked_at > STALE_AFTER
    return _asked_afresh(stands) if long_ago and not stands.state.startswith(PROVED_IN) else stands


def _asked_afresh(stands: Standing) -> Standing:
    """The place is kept, the question is not open any more; numbers that waited to be explained are not asked about."""
    if not stands.state.startswith(CHECKING) or stands.state == AWAITS_READINGS:
        return Standing(stands.state, stands.slots)
    kept = {name: value for name, value in stands.slots.items() if name not in _WAITED}
    return Standing(AT_REST, kept)


def asked_from(stored: Mapping[str, Any]) -> Asked:
    """The open question as it was sent."""
    return Asked(
        Expect(stored.get("expect", "nothing")),
        tuple(Offer(number, key, tuple(words)) for number, key, words in stored.get("offers", ())),
        stored.get("place"),
        tuple(Point(point) for point in stored.get("points", ())),
        question=stored.get("question", ""),
    )


def asked_as_stored(asked: Asked) -> dict[str, Any]:
    return {
        "expect": str(asked.expect),
        "offers": [[offer.number, offer.key, list(offer.words)] for offer in asked.offers],
        "place": asked.place,
        "points": [str(point) for point in asked.points],
        "question": asked.question,
    }


def _walls(rows: Sequence[Any]) -> tuple[Wall, ...]:
    found = {row.letter: Wall(row.letter, row.name, row.bays) for row in rows if row.wall_removed_at is None}
    return tuple(found.values())


def _places(rows: Sequence[Any]) -> tuple[Place, ...]:
    return tuple(
        Place(row.label, row.letter, PlaceKind(row.kind), Exposure(row.exposure), row.treated_plate, row.followed)
        for row in rows
        if row.label is not None and row.removed_at is None
    )


def _readings(known: Known) -> tuple[Reading, ...]:
    visits = {row.visit_id: row for row in known.visits}
    return tuple(_reading(row, visits[row.visit_id]) for row in known.readings)


def _reading(row: Any, visit: Any) -> Reading:
    return Reading(
        id=str(row.reading_id),
        place=row.place,
        point=_POINT[row.point],
        value=row.value,
        taken_on=row.taken_on,
        check=row.taken_on.isoformat(),
        qualifier=_QUALIFIER[row.qualifier],
        material=_MATERIAL[row.material],
        mode=_MODE[row.mode or visit.visit_mode],
        colour=row.colour,
        temp_c=visit.temp_c,
        meter=visit.meter,
        self_check=_SELF_CHECK[visit.self_check],
        resolution=row.resolution,
        confirmed=row.confirmed,
        recall=str(row.recall_id) if row.recall_id is not None else None,
    )


def _last(known: Known, readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """Readings of this phone's latest text that held any."""
    phone = known.who.contact_id
    latest = max([row.message_id or 0 for row in known.readings if row.contact_id == phone], default=None)
    return tuple(
        reading
        for row, reading in zip(known.readings, readings, strict=True)
        if row.contact_id == phone and row.message_id == latest
    )


def _circumstances(known: Known) -> Circumstances:
    told = known.who.facts or {}
    washed = told.get("washed_on")
    return Circumstances(
        mould_open=bool(known.who.mould_open) or told.get("smell") == SMELL_OPEN,
        flooded_again_on=known.who.flooded_again_on,
        power_on=told.get("power_on"),
        washed_on=dt.date.fromisoformat(washed) if washed else None,
        treated_confirmed=frozenset(row.label for row in known.places if row.label and row.treated_confirmed),
    )
