"""What agents do: each is a form that is posted, changes one thing in one transaction, and leads back to a page."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from guide_service.console import escalations, house_changes, members, takeover, visits
from guide_service.console.access import HOME, AgentDep, FormDep, ServiceDep, field, number_field, row_id
from guide_service.console.answering import agents_text, answer, objection_to, say_taken_over
from guide_service.console.audit import note
from guide_service.console.file_routes import HOUSEHOLD, back_to, person_of
from guide_service.console.household_file import household_in_scope
from guide_service.console.household_page import Draft, Shown, household_page
from guide_service.console.phrases import signature_of
from guide_service.console.sign_in import SignedIn
from guide_service.console.waiting_routes import LONGEST_REASON
from guide_service.console.words import OUTCOMES
from guide_service.database import writing
from guide_service.dialogue.effects import EscalationReason
from guide_service.dialogue.events import EventName
from guide_service.records import MouldReport, PlaceRow
from guide_service.turn import clock_turn
from guide_service.turning.people import can_be_texted
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)


@router.post("/console/escalations/{escalation}/claim")
def claim(service: ServiceDep, who: AgentDep, _form: FormDep, escalation: str) -> Response:
    with writing(service.engine) as session:
        found = escalations.escalation_in_scope(session, service, who, row_id(escalation))
        done = escalations.claim(session, service, who, found)
    return back_to(found.household_id, "claimed" if done else "taken")


@router.post("/console/escalations/{escalation}/release")
def release(service: ServiceDep, who: AgentDep, _form: FormDep, escalation: str) -> Response:
    with writing(service.engine) as session:
        found = escalations.escalation_in_scope(session, service, who, row_id(escalation))
        done = escalations.release(session, service, who, found)
    return back_to(found.household_id, "released" if done else "taken")


@router.post("/console/escalations/{escalation}/settle")
def settle(service: ServiceDep, who: AgentDep, form: FormDep, escalation: str) -> Response:
    outcome = field(form, "outcome")
    if outcome not in OUTCOMES:
        raise HTTPException(422)
    with writing(service.engine) as session:
        found = escalations.escalation_in_scope(session, service, who, row_id(escalation))
        if found.reason == EscalationReason.DELETION:  # decided on its own page, by a coordinator
            raise HTTPException(409)
        done = escalations.settle(session, service, who, found, outcome)
    return back_to(found.household_id, "settled" if done else "taken")


@router.post(f"{HOUSEHOLD}/take-over")
def take_over(service: ServiceDep, who: AgentDep, form: FormDep, household: str) -> Response:
    with writing(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, row_id(household))
        conversation = takeover.conversation_of(session, home.id, number_field(form, "conversation"))
        say_taken_over(session, service, who, conversation)
        takeover.take_over(session, service, conversation.id, who.agent.id)
        note(session, service, who, "take_over", home.id, conversation=conversation.id)
    return back_to(home.id, "taken_over")


@router.post(f"{HOUSEHOLD}/hand-back")
def hand_back(service: ServiceDep, who: AgentDep, form: FormDep, household: str) -> Response:
    with writing(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, row_id(household))
        conversation = takeover.conversation_of(session, home.id, number_field(form, "conversation"))
        takeover.hand_back(session, conversation.id)
        note(session, service, who, "hand_back", home.id, conversation=conversation.id)
    clock_turn(service, home.id, EventName.HANDED_BACK)
    return back_to(home.id, "handed_back")


@router.post(f"{HOUSEHOLD}/answer")
def answer_sent(request: Request, service: ServiceDep, who: AgentDep, form: FormDep, household: str) -> Response:
    typed = field(form, "text")
    text = agents_text(typed, signature_of(service.county, who.agent.name))
    objection = objection_to(text, insists=bool(field(form, "long")))
    if objection:
        draft = Draft(typed, field(form, "contact"), objection, silence=bool(field(form, "take_over")))
        return household_page(request, service, who, row_id(household), Shown(draft))
    with writing(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, row_id(household))
        person = person_of(session, home.id, number_field(form, "contact"))
        if not can_be_texted(person):
            raise HTTPException(409)
        answer(session, service, who, home.id, person, text, silence=bool(field(form, "take_over")))
    return back_to(home.id, "sent")


@router.post(f"{HOUSEHOLD}/number")
def show_number(request: Request, service: ServiceDep, who: AgentDep, form: FormDep, household: str) -> Response:
    contact, number = _unmasked(service, who, form, household, "show_number")
    return household_page(request, service, who, row_id(household), Shown(numbers={contact: number}))


@router.post(f"{HOUSEHOLD}/call")
def call(request: Request, service: ServiceDep, who: AgentDep, form: FormDep, household: str) -> Response:
    """The number, as a link that dials."""
    contact, number = _unmasked(service, who, form, household, "call")
    return household_page(request, service, who, row_id(household), Shown(numbers={contact: number}, calling=contact))


def _unmasked(service: Service, who: SignedIn, form: FormData, household: str, why: str) -> tuple[int, str]:
    """Id and number of the contact that the form names; why it is shown stands in the audit before it is."""
    with writing(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, row_id(household))
        contact = person_of(session, home.id, number_field(form, "contact")).contact
        note(session, service, who, why, home.id, contact=contact.id)
    return contact.id, service.sealer.open(contact.phone_sealed, contact.key_id)


@router.post(f"{HOUSEHOLD}/confirm-readings")
def confirm_readings(service: ServiceDep, who: AgentDep, _form: FormDep, household: str) -> Response:
    with writing(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, row_id(household))
        house_changes.confirm_readings(session, service, who, home.id)
    visits.weigh_again(service, who, home.id, "agent.confirmed")
    return back_to(home.id, "confirmed")


@router.post(f"{HOUSEHOLD}/end-membership")
def end_membership(service: ServiceDep, who: AgentDep, form: FormDep, household: str) -> Response:
    with writing(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, row_id(household))
        person = person_of(session, home.id, number_field(form, "contact"))
        members.end_membership(session, service, who, person.membership)
    return back_to(home.id, "ended")


@router.post(f"{HOUSEHOLD}/revoke-code")
def revoke_code(service: ServiceDep, who: AgentDep, _form: FormDep, household: str) -> Response:
    with writing(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, row_id(household))
        members.revoke_code(session, service, who, home)
    return back_to(home.id, "code_ended")


@router.post("/console/places/{place}/confirm-treated")
def confirm_treated(service: ServiceDep, who: AgentDep, _form: FormDep, place: str) -> Response:
    with writing(service.engine) as session:
        found = house_changes.of_household_in_scope(session, service, who, PlaceRow, row_id(place))
        house_changes.confirm_treated(session, service, who, found)
    visits.weigh_again(service, who, found.household_id, "agent.treated")
    return back_to(found.household_id, "confirmed")


@router.post("/console/mould-reports/{report}/lift")
def lift_mould(service: ServiceDep, who: AgentDep, form: FormDep, report: str) -> Response:
    with writing(service.engine) as session:
        found = house_changes.of_household_in_scope(session, service, who, MouldReport, row_id(report))
        house_changes.lift_mould(session, service, who, found, field(form, "why")[:LONGEST_REASON])
    visits.weigh_again(service, who, found.household_id, "agent.mould_lifted")
    return back_to(found.household_id, "lifted")


@router.post("/console/flooded-again")
def flooded_again(service: ServiceDep, who: AgentDep, form: FormDep) -> Response:
    if not field(form, "sure"):
        raise HTTPException(422)
    with writing(service.engine) as session:
        house_changes.declare_flooded_again(session, service, who, field(form, "area"))
    return RedirectResponse(f"{HOME}?done=flooded", status_code=303)
