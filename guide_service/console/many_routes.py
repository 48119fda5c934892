"""Routes of notices (texts to many households). What is decided about them is in ``notices.deciding``."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session
from starlette.datastructures import FormData

from guide_service.console.access import AgentDep, FormDep, ServiceDep, field, row_id
from guide_service.console.audit import note
from guide_service.console.many_form import Filled, filled, form_context
from guide_service.console.many_page import (
    list_page,
    not_reached_page,
    notice_in_scope,
    notice_page,
    progress_part,
    without_text_page,
)
from guide_service.console.pages import page
from guide_service.console.scope import sees_everything
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading, writing
from guide_service.notices import deciding
from guide_service.notices.deciding import Refused
from guide_service.notices.preview import Preview, preview
from guide_service.records import Notice
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)
NOTICES = "/console/notices"
ONE = f"{NOTICES}/{{notice}}"


@router.get(NOTICES)
def notices(request: Request, service: ServiceDep, who: AgentDep) -> Response:
    return list_page(request, service, who)


@router.get("/console/new-notice")
def new_notice(request: Request, service: ServiceDep, who: AgentDep) -> Response:
    return _form_page(request, service, who, None, None)


@router.post(NOTICES)
def write_notice(request: Request, service: ServiceDep, who: AgentDep, form: FormDep) -> Response:
    sent = filled(form, service, who.agent)
    if sent.objection():
        return _form_page(request, service, who, None, sent)
    office = None if sees_everything(who.agent) else who.agent.office
    with writing(service.engine) as session:
        notice = deciding.write(session, service, who.agent.id, office, sent.title, sent.choice, sent.phrase, sent.own)
        note(session, service, who, "notice_write", None, notice=notice.id)
    return _back_to(notice.id, "saved")


@router.get(ONE)
def one_notice(request: Request, service: ServiceDep, who: AgentDep, notice: str) -> Response:
    return notice_page(request, service, who, row_id(notice))


@router.get(f"{ONE}/change")
def change_form(request: Request, service: ServiceDep, who: AgentDep, notice: str) -> Response:
    with reading(service.engine) as session:
        found = notice_in_scope(session, who.agent, row_id(notice))
    if found.state != "draft":
        return notice_page(request, service, who, found.id, Refused.GONE)
    return _form_page(request, service, who, found, None)


@router.post(f"{ONE}/change")
def change_notice(request: Request, service: ServiceDep, who: AgentDep, form: FormDep, notice: str) -> Response:
    sent = filled(form, service, who.agent)
    with writing(service.engine) as session:
        found = notice_in_scope(session, who.agent, row_id(notice), lock=True)
        refused, was = None, found.approved_by
        if not sent.objection():
            refused = deciding.change(
                session, service, who.agent.id, found, sent.title, sent.choice, sent.phrase, sent.own
            )
            voided = was is not None and found.approved_by is None
            note(session, service, who, "notice_change", None, notice=found.id, voided=str(voided))
    if sent.objection():
        return _form_page(request, service, who, found, sent)
    return notice_page(request, service, who, found.id, refused) if refused else _back_to(found.id, "saved")


@router.post(f"{ONE}/approve")
def approve_notice(request: Request, service: ServiceDep, who: AgentDep, form: FormDep, notice: str) -> Response:
    return _decide_on_what_was_seen(request, service, who, form, notice, deciding.approve, "approve", "approved")


@router.post(f"{ONE}/start")
def start_notice(request: Request, service: ServiceDep, who: AgentDep, form: FormDep, notice: str) -> Response:
    return _decide_on_what_was_seen(request, service, who, form, notice, deciding.start, "start", "started")


@router.post(f"{ONE}/stop")
def stop_notice(request: Request, service: ServiceDep, who: AgentDep, _form: FormDep, notice: str) -> Response:
    return _decide(request, service, who, notice, deciding.stop, "stop", "stopped")


@router.post(f"{ONE}/drop")
def drop_notice(request: Request, service: ServiceDep, who: AgentDep, _form: FormDep, notice: str) -> Response:
    return _decide(request, service, who, notice, deciding.drop, "drop", "dropped")


@router.get(f"{ONE}/progress")
def notice_progress(request: Request, service: ServiceDep, who: AgentDep, notice: str) -> Response:
    return progress_part(request, service, who, row_id(notice))


After = Annotated[str, Query(max_length=19, pattern="^[0-9]+$")]
"""Contact after whom a page of people begins."""


@router.get(f"{ONE}/without-text")
def without_text(
    request: Request,
    service: ServiceDep,
    who: AgentDep,
    notice: str,
    after: After = "0",
) -> Response:
    """Who gets nothing because there are no words in his or her language: a look at their files."""
    found = _looked_into(service, who, notice, "notice_without_text")
    return without_text_page(request, service, who, found, int(after))


@router.get(f"{ONE}/not-reached")
def not_reached(
    request: Request,
    service: ServiceDep,
    who: AgentDep,
    notice: str,
    after: After = "0",
) -> Response:
    """Who was to get it and did not: a look at their files."""
    found = _looked_into(service, who, notice, "notice_not_reached")
    return not_reached_page(request, service, who, found, int(after))


def _looked_into(service: Service, who: SignedIn, notice: str, action: str) -> int:
    """Id of the notice whose people are looked at: one line in the audit."""
    with writing(service.engine) as session:
        found = notice_in_scope(session, who.agent, row_id(notice))
        note(session, service, who, action, None, notice=found.id)
        return found.id


Decision = Callable[[Session, Service, int, Notice], Refused | None]
DecisionOnSeen = Callable[[Session, Service, int, Notice, str, Preview], Refused | None]


def _decide(
    request: Request, service: Service, who: SignedIn, notice: str, decision: Decision, action: str, done: str
) -> Response:
    with writing(service.engine) as session:
        found = notice_in_scope(session, who.agent, row_id(notice))
        refused = decision(session, service, who.agent.id, found)
        if not refused:
            note(session, service, who, f"notice_{action}", None, notice=found.id)
    return notice_page(request, service, who, found.id, refused) if refused else _back_to(found.id, done)


def _decide_on_what_was_seen(
    request: Request,
    service: Service,
    who: SignedIn,
    form: FormData,
    notice: str,
    decision: DecisionOnSeen,
    action: str,
    done: str,
) -> Response:
    """Counted before the lock is taken; the words are compared again under it."""
    with reading(service.engine) as session:
        seen = preview(session, service, notice_in_scope(session, who.agent, row_id(notice)))
    with writing(service.engine) as session:
        found = notice_in_scope(session, who.agent, row_id(notice), lock=True)
        refused = decision(session, service, who.agent.id, found, field(form, "seen"), seen)
        if not refused:
            counted = {"people": seen.count, "segments": seen.segments}
            note(session, service, who, f"notice_{action}", None, notice=found.id, **counted)
    return notice_page(request, service, who, found.id, refused) if refused else _back_to(found.id, done)


def _form_page(
    request: Request, service: Service, who: SignedIn, notice: Notice | None, sent: Filled | None
) -> Response:
    problem = sent.objection() if sent else None
    context = form_context(service, who.agent, sent or notice)
    return page(
        request, service, "notice_form.html", who, 422 if problem else 200, here="notices", notice=notice,
        problem=problem, **context,
    )  # fmt: skip


def _back_to(notice_id: int, done: str) -> Response:
    return RedirectResponse(f"{NOTICES}/{notice_id}?done=notice_{done}", status_code=303)
