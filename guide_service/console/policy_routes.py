"""The policy in force with its sources and every version before it; a coordinator changes it with a reason."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, select
from starlette.datastructures import FormData

from guide_service.console.access import AgentDep, CoordinatorDep, FormDep, ServiceDep, field
from guide_service.console.audit import note
from guide_service.console.catalogue import N_, gettext
from guide_service.console.pages import page
from guide_service.console.policy_changes import LIMITS, WINDOWS, changed, differences, filled_policy
from guide_service.console.roles import Role
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading, writing
from guide_service.records import Agent, PolicyRow
from guide_service.records.policies import add_version, all_versions, policy_in_force, seed_policy
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)
POLICY = "/console/policy"
NO_REASON = N_("Say why the policy changes.")
NOTHING_NEW = N_("Nothing was changed.")
MEANWHILE = N_("Somebody changed the policy meanwhile. Look at it and change it again.")


@router.get(POLICY)
def policy(request: Request, service: ServiceDep, who: AgentDep) -> Response:
    return _policy_page(request, service, who)


@router.post(POLICY)
def change_policy(request: Request, service: ServiceDep, who: CoordinatorDep, form: FormDep) -> Response:
    try:
        with writing(service.engine) as session:
            problem = _change(session, service, who, form)
    except IntegrityError:
        problem = gettext(MEANWHILE)
    service.policies.look_again()
    if problem:
        return _policy_page(request, service, who, problem, form)
    return RedirectResponse(f"{POLICY}?done=saved", status_code=303)


def _change(session: Session, service: Service, who: SignedIn, form: FormData) -> str | None:
    """What stands against it, or None when it is stored. Versions are unique: of two at one instant one has it."""
    first, now = service.county.first_policy(), service.clock.now()
    before = policy_in_force(session) or first
    reason = field(form, "reason")[:500]
    if field(form, "version") != str(before.version):
        return gettext(MEANWHILE)
    if not reason:
        return gettext(NO_REASON)
    try:
        after = filled_policy(form, before)
    except ValueError as refused:
        return str(refused)
    if not changed(before, after):
        return gettext(NOTHING_NEW)
    seed_policy(session, first, now)
    session.flush()
    add_version(session, after, reason, who.agent.id, now)
    session.flush()
    note(session, service, who, "policy_change", None, version=after.version)
    return None


def _policy_page(
    request: Request, service: Service, who: SignedIn, problem: str | None = None, form: FormData | None = None
) -> Response:
    with reading(service.engine) as session:
        rows = all_versions(session)
        names = {agent.id: agent.name for agent in session.exec(select(Agent))}
        current = policy_in_force(session) or service.county.first_policy()
    return page(
        request,
        service,
        "policy.html",
        who,
        422 if problem else 200,
        here="policy",
        policy=current,
        limits=LIMITS,
        windows=WINDOWS,
        versions=_history(rows, names),
        may_change=who.agent.role == Role.COORDINATOR,
        problem=problem,
        sent=form or {},
    )


def _history(rows: list[PolicyRow], names: dict[int, str]) -> list[dict[str, object]]:
    older = [*rows[1:], None][: len(rows)]
    return [
        {
            "row": row,
            "by": names.get(row.made_by or 0, ""),
            "changes": differences(before.values, row.values) if before else [],
        }
        for row, before in zip(rows, older, strict=True)
    ]
