"""What agents write into a file: notes, ready-made answers, escalations of their own, a second phone, a merged file."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from sqlalchemy import update
from sqlmodel import Session, col

from guide_service.console import doubles, merging, phones, phrases
from guide_service.console.access import HOME, AgentDep, FormDep, ServiceDep, field, number_field, row_id
from guide_service.console.answering import answer
from guide_service.console.audit import note
from guide_service.console.catalogue import gettext
from guide_service.console.entering import enter
from guide_service.console.household_file import household_in_scope
from guide_service.console.household_page import AskedPhone, Shown, household_page, talk_part
from guide_service.console.phones import PhoneAnswer
from guide_service.console.place_plot import place_plot
from guide_service.console.words import ROLES
from guide_service.database import reading, writing
from guide_service.dialogue.by_agent import assessed_again
from guide_service.dialogue.effects import EscalationReason
from guide_service.followup.escalations import MOST_WORDS, raise_escalation
from guide_service.records import Household, HouseholdNote
from guide_service.turning.people import Person, can_be_texted, people_of

router = APIRouter(include_in_schema=False)
HOUSEHOLD = "/console/households/{household}"
LONGEST_NOTE = 1000
URGENCIES = ("1", "2", "3", "4")


def home_of(service: ServiceDep, who: AgentDep, household: str) -> Household:
    """The household of the address; 404 before anything else is said about what was posted."""
    with reading(service.engine) as session:
        return household_in_scope(session, service.county, who.agent, row_id(household))


HomeDep = Annotated[Household, Depends(home_of)]


def back_to(household_id: int, done: str) -> Response:
    return RedirectResponse(f"{HOME}/households/{household_id}?done={done}", status_code=303)


def person_of(session: Session, household_id: int, contact_id: int) -> Person:
    found = next((each for each in people_of(session, household_id) if each.contact.id == contact_id), None)
    if found is None:
        raise HTTPException(404)
    return found


@router.get(f"{HOUSEHOLD}/talk")
def talk(request: Request, service: ServiceDep, who: AgentDep, home: HomeDep) -> Response:
    """The conversation again, for a page that is open."""
    return talk_part(request, service, who, home)


@router.get("/console/places/{place}/plot")
def plot(service: ServiceDep, who: AgentDep, place: str, dark: str = "") -> Response:
    return Response(place_plot(service, who, row_id(place), dark=bool(dark)), media_type="image/svg+xml")


@router.post(f"{HOUSEHOLD}/notes")
def write_note(service: ServiceDep, who: AgentDep, form: FormDep, home: HomeDep) -> Response:
    body = field(form, "note")
    if not body or len(body) > LONGEST_NOTE:
        raise HTTPException(422)
    with writing(service.engine) as session:
        row = HouseholdNote(household_id=home.id, agent_id=who.agent.id, body=body, at=service.clock.now())
        session.add(row)
        note(session, service, who, "note", home.id, note=row.id)
    return back_to(home.id, "noted")


@router.post(f"{HOUSEHOLD}/phrase")
def send_phrase(service: ServiceDep, who: AgentDep, form: FormDep, home: HomeDep) -> Response:
    phrase = field(form, "phrase")
    if phrase not in phrases.phrases(service):
        raise HTTPException(422)
    signature = phrases.signature_of(service.county, who.agent.name)
    with writing(service.engine) as session:
        person = person_of(session, home.id, number_field(form, "contact"))
        if not can_be_texted(person):
            raise HTTPException(409)
        text = phrases.phrase_text(service, phrase, person.contact.language, signature)
        answer(session, service, who, home.id, person, text, silence=bool(field(form, "take_over")))
    return back_to(home.id, "sent")


@router.post(f"{HOUSEHOLD}/raise")
def raise_need(service: ServiceDep, who: AgentDep, form: FormDep, home: HomeDep) -> Response:
    reason, urgency = field(form, "reason"), field(form, "urgency")
    if reason not in set(EscalationReason) or urgency not in URGENCIES:
        raise HTTPException(422)
    with writing(service.engine) as session:
        session.connection().execute(
            update(Household).where(col(Household.id) == home.id).values(version=Household.version + 1)
        )
        people = people_of(session, home.id)
        contact = people[0].contact.id if people else None
        words = field(form, "words")[:MOST_WORDS]
        key = raise_escalation(session, service, home.id, EscalationReason(reason), int(urgency), contact_id=contact,
                               detail={"by": str(who.agent.id)}, words=words)  # fmt: skip
        note(session, service, who, "raise", home.id, escalation=key, reason=reason)
    return back_to(home.id, "raised")


@router.post(f"{HOUSEHOLD}/phones")
def add_phone(request: Request, service: ServiceDep, who: AgentDep, form: FormDep, home: HomeDep) -> Response:
    role, language = field(form, "role"), field(form, "language")
    if role not in ROLES or language not in service.county.languages or not field(form, "agreed"):
        raise HTTPException(422)
    phone = phones.NewPhone(field(form, "number"), role, field(form, "name"), language)
    with writing(service.engine) as session:
        inside = household_in_scope(session, service.county, who.agent, home.id)
        done = phones.add_phone(session, service, who, inside, phone)
    if done is not PhoneAnswer.ADDED:
        shown = Shown(phone=AskedPhone(phone, gettext(phones.REFUSALS[done])))
        return household_page(request, service, who, home.id, shown)
    return back_to(home.id, str(done))


@router.post(f"{HOUSEHOLD}/find-double")
def find_double(request: Request, service: ServiceDep, who: AgentDep, form: FormDep, home: HomeDep) -> Response:
    """Files that may be of the same house, by the number of a phone or by address; looking is in the audit."""
    with writing(service.engine) as session:
        found = doubles.doubles_of(session, service, who, home, field(form, "number"))
        for double in found:
            note(session, service, who, "look_for_double", double.id, first=home.id)
    shown = Shown(doubles=tuple((double.id, doubles.called(service, double)) for double in found), looked=True)
    return household_page(request, service, who, home.id, shown)


@router.post(f"{HOUSEHOLD}/merge")
def merge(service: ServiceDep, who: AgentDep, form: FormDep, home: HomeDep) -> Response:
    second_id = number_field(form, "second")
    if second_id == home.id or not field(form, "sure"):
        raise HTTPException(422)
    with writing(service.engine) as session:
        first = household_in_scope(session, service.county, who.agent, home.id)
        second = household_in_scope(session, service.county, who.agent, second_id)
        refused = merging.merge(session, service, who, first, second)
        someone = bool(people_of(session, home.id))
    if refused:
        return back_to(home.id, str(refused))
    if someone:
        messages = service.flows.messages
        enter(service, who, home.id, lambda looked: assessed_again(looked.facts, messages), "assess_again")
    return back_to(home.id, "merged")
