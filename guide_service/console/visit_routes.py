"""What agents enter: readings of a visit, readings put right, the stage, the next check."""

from __future__ import annotations

import datetime as dt

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from sqlalchemy import update
from sqlmodel import col

from guide_service.console import visits
from guide_service.console.access import AgentDep, FormDep, ServiceDep, field, number_field
from guide_service.console.audit import note
from guide_service.console.file_routes import HOUSEHOLD, HomeDep, back_to
from guide_service.console.household_page import Shown, Visit, household_page
from guide_service.console.words import POINTS, STAGES_IN_ORDER
from guide_service.database import writing
from guide_service.dialogue.by_agent import PutRight
from guide_service.drying.terms import Point
from guide_service.records import Household

router = APIRouter(include_in_schema=False)
LONGEST_WORDS = 400
LONGEST_WALL = 30
LONGEST_WHY = 200


@router.post(f"{HOUSEHOLD}/readings")
def add_readings(request: Request, service: ServiceDep, who: AgentDep, form: FormDep, home: HomeDep) -> Response:
    words, day = field(form, "readings")[:LONGEST_WORDS], _day(field(form, "day"))
    if day is None or not words:
        raise HTTPException(422)
    right = field(form, "right") == "1"
    entered = visits.add_readings(service, who, home.id, words, day, right)
    if entered.unclear:
        visit = Visit(words, day.isoformat(), right, entered.unclear)
        return household_page(request, service, who, home.id, Shown(visit=visit))
    return back_to(home.id, "readings_added")


@router.post(f"{HOUSEHOLD}/correct")
def correct(service: ServiceDep, who: AgentDep, form: FormDep, home: HomeDep) -> Response:
    if field(form, "none"):
        visits.withdraw(service, who, home.id, number_field(form, "reading"))
        return back_to(home.id, "withdrawn")
    typed, point = field(form, "value"), field(form, "point")
    number = visits.number_typed(typed)
    if number is None or (point and point not in POINTS):
        raise HTTPException(422)
    right = PutRight(*number, field(form, "place") or None, Point(point) if point else None, typed)
    visits.correct(service, who, home.id, number_field(form, "reading"), right)
    return back_to(home.id, "corrected")


@router.post(f"{HOUSEHOLD}/wall")
def change_wall(service: ServiceDep, who: AgentDep, form: FormDep, home: HomeDep) -> Response:
    letter, name = field(form, "wall"), " ".join(field(form, "name").split())
    remove, why = bool(field(form, "remove")), field(form, "why")
    if not letter or len(name) > LONGEST_WALL or len(why) > LONGEST_WHY or not (why if remove else name):
        raise HTTPException(422)
    visits.change_wall(service, who, home.id, letter, "" if remove else name, why)
    return back_to(home.id, "wall_removed" if remove else "wall_renamed")


@router.post(f"{HOUSEHOLD}/stage")
def set_stage(service: ServiceDep, who: AgentDep, form: FormDep, home: HomeDep) -> Response:
    stage = field(form, "stage")
    if stage not in STAGES_IN_ORDER:
        raise HTTPException(422)
    with writing(service.engine) as session:
        moved = update(Household).where(col(Household.id) == home.id)
        values = {"stage": stage, "version": Household.version + 1, "updated_at": service.clock.now()}
        session.connection().execute(moved.values(**values))
        note(session, service, who, "set_stage", home.id, before=home.stage, stage=stage)
    return back_to(home.id, "stage_set")


@router.post(f"{HOUSEHOLD}/next-check")
def set_check(service: ServiceDep, who: AgentDep, form: FormDep, home: HomeDep) -> Response:
    day = None if field(form, "none") else _day(field(form, "day"))
    if day is None and not field(form, "none"):
        raise HTTPException(422)
    visits.set_check(service, who, home.id, day)
    return back_to(home.id, "check_set" if day else "check_none")


def _day(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None
