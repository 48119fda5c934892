"""Measuring rounds: an agent sends a volunteer to a house, who enters there what the meter showed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from dataclasses import field as made_with

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from guide_service.console import rounds
from guide_service.console.access import AgentDep, FormDep, ServiceDep, VolunteerDep, field, number_field, row_id
from guide_service.console.audit import note
from guide_service.console.catalogue import N_, gettext, ngettext
from guide_service.console.household_file import household_in_scope
from guide_service.console.pages import page
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading, writing
from guide_service.dialogue.events import WhyUnclear
from guide_service.drying.terms import Mode, Point
from guide_service.turning.rounds import Doubt, Entry, points_of
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)
SETTINGS = {Mode.WOOD_PINS: N_("on wood, with pins"), Mode.OTHER_SCALE: N_("on another scale"),
            Mode.PINLESS: N_("without pins, a pad on the surface")}  # fmt: skip
DOUBTS = {
    WhyUnclear.NO_DECIMAL: N_("Is a point missing?"),
    WhyUnclear.TOO_HIGH: N_("So high a number is seldom right."),
    WhyUnclear.NEGATIVE: N_("A meter shows no number below zero."),
    WhyUnclear.JUMP: N_("This is far from the last reading here. Push the pins in once more."),
    WhyUnclear.TEMPERATURE: N_("Is that a temperature?"),
    WhyUnclear.LETTERS_IN_NUMBER: N_("There is a letter in the number."),
}
OTHER_DOUBT = N_("This was not understood as a reading.")


@dataclass(frozen=True, slots=True)
class Sheet:
    """What the form shows again: the entries that were not certain, and what was chosen."""

    taken_on: str = ""
    setting: str = ""
    stored: int = 0
    doubts: dict[tuple[str, Point], Doubt] = made_with(default_factory=dict)
    problem: str = ""


@router.get("/console/households/{household}/round")
def round_of_household(request: Request, service: ServiceDep, who: AgentDep, household: str) -> Response:
    with reading(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, row_id(household))
        today = rounds.today_at(service, home)
        volunteers = rounds.volunteers_for(session, who)
        assigned = rounds.assigned_to(session, home.id, today)
    return page(request, service, "assign_round.html", who, household=home, volunteers=volunteers, assigned=assigned,
                today=today, last=today + dt.timedelta(days=7))  # fmt: skip


@router.post("/console/households/{household}/round")
def round_assigned(service: ServiceDep, who: AgentDep, form: FormDep, household: str) -> Response:
    with writing(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, row_id(household))
        first, last = (_day(field(form, name)) for name in ("first_day", "last_day"))
        rounds.assign(session, service, who, home, number_field(form, "volunteer"), first, last)
    return _to_round_of(home.id, "assigned")


@router.post("/console/round-houses/{assigned}/end")
def round_ended(service: ServiceDep, who: AgentDep, _form: FormDep, assigned: str) -> Response:
    with writing(service.engine) as session:
        home = rounds.end(session, service, who, row_id(assigned))
    return _to_round_of(home, "round_ended")


@router.get("/console/rounds")
def own_round(request: Request, service: ServiceDep, who: VolunteerDep) -> Response:
    with writing(service.engine) as session:
        note(session, service, who, "round_list", None)
        houses = rounds.own_round(session, service, who)
    return page(request, service, "round.html", who, here="rounds", houses=houses)


@router.get("/console/rounds/{assigned}")
def own_house(request: Request, service: ServiceDep, who: VolunteerDep, assigned: str) -> Response:
    return _house_page(request, service, who, row_id(assigned), Sheet())


@router.post("/console/rounds/{assigned}")
def readings_sent(request: Request, service: ServiceDep, who: VolunteerDep, form: FormDep, assigned: str) -> Response:
    house = _house(service, who, row_id(assigned))
    sheet = Sheet(field(form, "taken_on"), field(form, "setting"))
    entries, problem = _entries(form, house), _problem(service, form, house)
    if problem or not entries:
        doubts = {(each.place, each.point): Doubt(each, WhyUnclear.NOT_A_READING) for each in entries}
        problem = problem or gettext("There is nothing to store yet: no number was typed.")
        return _house_page(request, service, who, house.assigned.id, Sheet(sheet.taken_on, sheet.setting, 0, doubts,
                           problem))  # fmt: skip
    taken_on = dt.date.fromisoformat(sheet.taken_on)
    stored, found = rounds.enter(service, who, house.assigned.id, entries, taken_on, Mode(sheet.setting))
    doubts = {(each.entry.place, each.entry.point): each for each in found}
    return _house_page(request, service, who, house.assigned.id, Sheet(sheet.taken_on, sheet.setting, stored, doubts))


def _to_round_of(household_id: int, done: str) -> Response:
    return RedirectResponse(f"/console/households/{household_id}/round?done={done}", status_code=303)


def _house(service: Service, who: SignedIn, assigned_id: int) -> rounds.House:
    with reading(service.engine) as session:
        return rounds.own_house(session, service, who, assigned_id)[0]


def _day(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise HTTPException(422) from None


def _entries(form: FormData, house: rounds.House) -> list[Entry]:
    """Only fields of places that are there; empty ones were not read."""
    named = [(place, point, f"{place}:{point}") for place, point in rounds.fields_of(house)]
    entries = [Entry(place, point, _typed(form, name), field(form, f"sure:{name}")) for place, point, name in named]
    return [entry for entry in entries if entry.typed]


def _typed(form: FormData, name: str) -> str:
    """What was typed, with the sign that a phone's number pad does not have."""
    typed = field(form, name)
    if typed.startswith(("<", ">")):
        return typed
    if field(form, f"above:{name}"):
        return f">{typed}" if typed else "OL"
    return f"<{typed}" if field(form, f"below:{name}") else typed


def _problem(service: Service, form: FormData, house: rounds.House) -> str:
    if field(form, "setting") not in SETTINGS:
        return gettext("Say first how the meter was set.")
    first, last = rounds.days_of(service, house)
    try:
        on = dt.date.fromisoformat(field(form, "taken_on"))
    except ValueError:
        return gettext("Say on which day you measured.")
    return "" if first <= on <= last else gettext("That day is not one of your round, or it is still to come.")


def _house_page(request: Request, service: Service, who: SignedIn, assigned_id: int, sheet: Sheet) -> Response:
    with writing(service.engine) as session:
        house, _ = rounds.own_house(session, service, who, assigned_id)
        note(session, service, who, "round_look", house.household.id)
    first, last = rounds.days_of(service, house)
    return page(
        request, service, "round_house.html", who, 422 if sheet.problem or sheet.doubts else 200, here="rounds",
        house=house, sheet=sheet, first=first, last=last, settings=SETTINGS, points_of=points_of,
        why=_why, stored=_stored(sheet), household=house.household,
    )  # fmt: skip


def _why(doubt: Doubt) -> str:
    return gettext(DOUBTS.get(doubt.why, OTHER_DOUBT))


def _stored(sheet: Sheet) -> str:
    if not sheet.stored:
        return ""
    text = ngettext("%(num)s reading is stored.", "%(num)s readings are stored.", sheet.stored)
    return text % {"num": sheet.stored}
