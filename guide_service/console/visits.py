"""Readings that an agent takes or puts right, the next check that he or she sets."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

from fastapi import HTTPException

from guide_service.console.entering import enter
from guide_service.console.sign_in import SignedIn
from guide_service.dialogue.answers import understand
from guide_service.dialogue.by_agent import (
    AGENTS_VISIT,
    Entered,
    PutRight,
    check_on,
    put_right,
    remove_wall,
    rename_wall,
    take_out,
    visit_readings,
    weighed,
)
from guide_service.dialogue.events import Asked, EventName, Expect, ReadingsHeard
from guide_service.dialogue.facts import CheckFacts
from guide_service.dialogue.machine import Standing
from guide_service.drying.terms import BAY_POINTS, Mode, PlaceKind, Point, Qualifier, Reading, SelfCheck
from guide_service.turning.entered import Looked
from guide_service.turning.knowing import listening_of
from guide_service.wiring import Service

OLDEST_DAYS = 60
CHECK_DAYS = 1, 120
"""From today: the nearest and the farthest day that a next check can be set for."""
HIGHEST = 100.0
_NUMBER = re.compile(r"([<>]?)\s*(\d{1,3}(?:[.,]\d)?)")
_QUALIFIERS = {"": Qualifier.EXACT, ">": Qualifier.ABOVE, "<": Qualifier.BELOW}


def number_typed(typed: str) -> tuple[float, Qualifier] | None:
    """ "22", "22.5", ">40", "<6"; None for anything else."""
    found = _NUMBER.fullmatch(typed.strip())
    if found is None:
        return None
    value = float(found[2].replace(",", "."))
    return (value, _QUALIFIERS[found[1]]) if value <= HIGHEST else None


def add_readings(service: Service, who: SignedIn, household: int, words: str, day: dt.date, right: bool) -> Entered:
    """As a household would text them: "K1 22 19 17, K2 19". ``right``: pins, wood setting, checked before use."""
    visit = AGENTS_VISIT if right else CheckFacts(Mode.NOT_ASKED, SelfCheck.NOT_DONE)

    def decide(looked: Looked) -> Entered:
        if not looked.facts.today - dt.timedelta(days=OLDEST_DAYS) <= day <= looked.facts.today:
            raise HTTPException(422)
        heard = _heard(service, looked, words)
        if isinstance(heard, Entered):
            return heard
        return visit_readings(looked.facts, service.flows.messages, heard, day, visit)

    return enter(service, who, household, decide, "add_readings", for_reminders=True, day=day.isoformat())


def _heard(service: Service, looked: Looked, words: str) -> ReadingsHeard | Entered:
    """What the same understanding makes of it that hears the household."""
    standing = Standing("check.point", {}, Asked(Expect.READINGS))
    listening = replace(listening_of(looked.facts, standing), trusted=True)
    events = [event for event in understand(words, listening, service.lexicons) if event.name != EventName.GREETING]
    if len(events) != 1 or not isinstance(events[0].value, ReadingsHeard):
        return Entered(unclear=(words[:60],))
    return events[0].value


def correct(service: Service, who: SignedIn, household: int, reading_id: int, right: PutRight) -> Entered:
    def decide(looked: Looked) -> Entered:
        old = _standing(looked, reading_id)
        _check_point(looked, right.place or old.place, right.point or old.point)
        return put_right(looked.facts, service.flows.messages, old, right)

    return enter(service, who, household, decide, "correct_reading", reading=reading_id)


def withdraw(service: Service, who: SignedIn, household: int, reading_id: int) -> Entered:
    def decide(looked: Looked) -> Entered:
        return take_out(looked.facts, service.flows.messages, _standing(looked, reading_id))

    return enter(service, who, household, decide, "withdraw_reading", reading=reading_id)


def change_wall(service: Service, who: SignedIn, household: int, letter: str, name: str, reason: str) -> Entered:
    """Another name, or with a reason in its place off the list; 404 for a wall that is not there."""

    def decide(looked: Looked) -> Entered:
        if not any(wall.id == letter for wall in looked.facts.walls):
            raise HTTPException(404)
        if name:
            return rename_wall(looked.facts, letter, name)
        return remove_wall(looked.facts, service.flows.messages, letter)

    if name:
        return enter(service, who, household, decide, "rename_wall", wall=letter, name=name)
    return enter(service, who, household, decide, "remove_wall", wall=letter, why=reason)


def set_check(service: Service, who: SignedIn, household: int, day: dt.date | None) -> Entered:
    def decide(looked: Looked) -> Entered:
        nearest, farthest = CHECK_DAYS
        if day is not None and not nearest <= (day - looked.facts.today).days <= farthest:
            raise HTTPException(422)
        return check_on(looked.facts, day)

    return enter(service, who, household, decide, "set_check", for_reminders=True, day=day.isoformat() if day else "")


def weigh_again(service: Service, who: SignedIn, household: int, told: str) -> None:
    """What an agent decided counts at once, on the lists too, and the household hears of it. A file that has no phone
    any more, or is being written to without end, is weighed with its next text."""
    try:
        enter(
            service, who, household, lambda looked: weighed(looked.facts, service.flows.messages, told), "weigh_again"
        )
    except HTTPException as problem:
        if problem.status_code != 409:
            raise


def _standing(looked: Looked, reading_id: int) -> Reading:
    """A reading that counts; 404 for one that is not there or was replaced."""
    found = next((each for each in looked.facts.readings if each.id == str(reading_id)), None)
    if found is None:
        raise HTTPException(404)
    return found


def _check_point(looked: Looked, label: str, point: Point) -> None:
    place = next((each for each in looked.facts.places if each.label == label), None)
    fits = {PlaceKind.BAY: {*BAY_POINTS, Point.SHEATHING, Point.SURFACE}}.get(
        place.kind if place else PlaceKind.BAY, {Point.WOOD, Point.SURFACE}
    )
    if place is None or point not in fits:
        raise HTTPException(422)
