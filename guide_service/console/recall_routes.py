"""A coordinator recalls a meter that reads wrong: chosen with a reason, looked at beforehand, confirmed, followed."""

from __future__ import annotations

import datetime as dt

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session
from starlette.datastructures import FormData

from guide_service.console import escalations
from guide_service.console.access import CoordinatorDep, FormDep, HouseholdAsked, ServiceDep, field, row_id
from guide_service.console.audit import note
from guide_service.console.catalogue import N_, gettext
from guide_service.console.household_file import household_in_scope
from guide_service.console.pages import page, today_of
from guide_service.console.recall_page import RECALLS, recall_page
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading, writing
from guide_service.dialogue.effects import EscalationReason
from guide_service.recalls.finding import Wanted, slices
from guide_service.recalls.marking import end_recall, make_recall
from guide_service.recalls.preview import Preview, preview
from guide_service.recalls.undoing import undo_recall
from guide_service.records import Household, MeterRecall
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)
NEW = "/console/records/new-recall"
LONGEST_SPAN_DAYS = 400
SHOWN = 200
"""Households listed in a preview."""
WRONG_DAYS = N_("The days do not fit: from the first day on, not in the future, at most %(days)s days ago.")
NO_METER = N_("Name the meter: the number on it, or its owner as households say it.")
NO_REASON = N_("Say why: what was found, and by whom.")
CHANGED = N_("Something has come in since you looked: this is what the recall concerns now.")
NO_UNDOING = N_("Say why it is taken back: what turned out.")
NOTHING = N_("Nothing was measured with this meter on those days, and nobody has it.")


@router.get(NEW)
def new_recall(
    request: Request,
    service: ServiceDep,
    who: CoordinatorDep,
    household: HouseholdAsked = "",
) -> Response:
    return _form_page(request, service, who, FormData({"household": household}))


@router.post(f"{NEW}/preview")
def preview_recall(request: Request, service: ServiceDep, who: CoordinatorDep, form: FormDep) -> Response:
    problem, wanted = _wanted(service, form)
    if wanted is None:
        return _form_page(request, service, who, form, problem)
    with reading(service.engine) as session:
        _home(session, service, who, wanted)
        seen = preview(session, wanted)
    return _preview_page(request, service, who, form, seen)


@router.post(RECALLS)
def recall(request: Request, service: ServiceDep, who: CoordinatorDep, form: FormDep) -> Response:
    """Looked at once more under the lock: what is recalled is what was seen."""
    problem, wanted = _wanted(service, form)
    if wanted is None:
        return _form_page(request, service, who, form, problem)
    with writing(service.engine) as session:
        _home(session, service, who, wanted)
        seen = preview(session, wanted)
        as_seen = seen.digest == field(form, "seen") and seen.households > 0
        made = make_recall(session, service, wanted, field(form, "reason")[:300], who.agent.id) if as_seen else None
        if made is not None:
            counted = {"checks": made.checks, "households": made.households, "meter": made.meter or ""}
            note(session, service, who, "recall_meter", wanted.household_id, recall=made.id, **counted)
    if made is None:
        return _preview_page(request, service, who, form, seen, gettext(CHANGED))
    service.recalls.look_again()
    return RedirectResponse(f"{RECALLS}/{made.id}?done=recalled", status_code=303)


@router.get(f"{RECALLS}/{{recall}}")
def one_recall(request: Request, service: ServiceDep, who: CoordinatorDep, recall: str) -> Response:
    return recall_page(request, service, who, row_id(recall))


@router.post(f"{RECALLS}/{{recall}}/end")
def in_order_again(service: ServiceDep, who: CoordinatorDep, form: FormDep, recall: str) -> Response:
    """What is measured after that day counts; what was taken back stays so."""
    with writing(service.engine) as session:
        found = session.get(MeterRecall, row_id(recall))
        if found is None:
            raise HTTPException(404)
        day = _day(form, "last_day")
        if (
            found.undone_at is not None
            or found.last_day is not None
            or day is None
            or not found.first_day <= day <= today_of(service)
        ):
            raise HTTPException(422)
        end_recall(session, found, day, who.agent.id)
        note(session, service, who, "end_recall", found.household_id, recall=found.id, day=day.isoformat())
    service.recalls.look_again()
    return RedirectResponse(f"{RECALLS}/{found.id}?done=recall_ended", status_code=303)


@router.post(f"{RECALLS}/{{recall}}/undo")
def taken_back(request: Request, service: ServiceDep, who: CoordinatorDep, form: FormDep, recall: str) -> Response:
    """It was made by mistake: its numbers count again, and whoever was told is told."""
    why = field(form, "why")[:300]
    if not why:
        return recall_page(request, service, who, row_id(recall), gettext(NO_UNDOING))
    with writing(service.engine) as session:
        found = session.get(MeterRecall, row_id(recall), with_for_update=True)
        if found is None:
            raise HTTPException(404)
        if found.undone_at is not None:
            raise HTTPException(409)
        homes = undo_recall(session, service, found, why, who.agent.id)
        for some in slices(homes):
            escalations.settle_all(session, service, who, some, EscalationReason.METER_RECALLED, "recall_undone")
        note(session, service, who, "undo_recall", found.household_id, recall=found.id, households=len(homes))
    service.recalls.look_again()
    return RedirectResponse(f"{RECALLS}/{found.id}?done=recall_undone", status_code=303)


def _wanted(service: Service, form: FormData) -> tuple[str, Wanted | None]:
    """What is asked for, or what is wrong with it."""
    household, meter = field(form, "household"), " ".join(field(form, "meter").split())[:40]
    first, last, today = _day(form, "first_day"), _day(form, "last_day"), today_of(service)
    still = bool(field(form, "still_wrong"))
    if not household and not meter:
        return gettext(NO_METER), None
    oldest = today - dt.timedelta(days=LONGEST_SPAN_DAYS)
    end = today if still else last
    if first is None or end is None or not oldest <= first <= end <= today:
        return gettext(WRONG_DAYS) % {"days": LONGEST_SPAN_DAYS}, None
    if not field(form, "reason"):
        return gettext(NO_REASON), None
    home = row_id(household) if household else None
    unnamed = bool(field(form, "unnamed")) and home is None
    return "", Wanted(first, None if still else end, "" if home else meter, home, unnamed)


def _day(form: FormData, name: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(field(form, name))
    except ValueError:
        return None


def _home(session: Session, service: Service, who: SignedIn, wanted: Wanted) -> Household | None:
    if wanted.household_id is None:
        return None
    return household_in_scope(session, service.county, who.agent, wanted.household_id)


def _form_page(
    request: Request, service: Service, who: SignedIn, form: FormData, problem: str | None = None
) -> Response:
    household = field(form, "household")
    home = None
    if household:
        with reading(service.engine) as session:
            home = household_in_scope(session, service.county, who.agent, row_id(household))
    return page(
        request, service, "recall_form.html", who, 422 if problem else 200, here="records", problem=problem, sent=form,
        of_household=home, today=today_of(service), lent=[meter.number for meter in service.county.lent_meters],
    )  # fmt: skip


def _preview_page(
    request: Request, service: Service, who: SignedIn, form: FormData, seen: Preview, problem: str | None = None
) -> Response:
    nothing = gettext(NOTHING) if not seen.households else None
    return page(
        request, service, "recall_preview.html", who, 409 if problem else 200, here="records",
        problem=nothing or problem, sent=form, seen=seen, shown=seen.affected[:SHOWN],
    )  # fmt: skip
