"""The policy in force with its sources, every version before it, and a form for each part that coordinators change."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, select
from starlette.datastructures import FormData

from guide_service.console import policy_help, policy_limits, policy_offices, policy_places, policy_silence
from guide_service.console.access import AgentDep, CoordinatorDep, FormDep, ServiceDep, field
from guide_service.console.catalogue import N_, gettext
from guide_service.console.pages import page
from guide_service.console.policy_changes import MEANWHILE, Outcome, as_shown, change, looked_at
from guide_service.console.policy_sections import BY_KEY, SECTIONS, Section, all_lines
from guide_service.console.roles import Role
from guide_service.console.sign_in import SignedIn
from guide_service.county_decided import Rules
from guide_service.database import reading, writing
from guide_service.in_force import FROM_THE_FILE, first_row, rules_of
from guide_service.records import Agent, PolicyRow
from guide_service.records.policies import all_versions
from guide_service.wiring import Service
from guide_service.wording.formats import own_name

router = APIRouter(include_in_schema=False)
POLICY = "/console/policy"
ROLES = {
    Role.COORDINATOR: N_("a coordinator"),
    Role.AGENT: N_("an agent"),
    Role.VOLUNTEER: N_("a volunteer"),
    Role.TRANSLATOR: N_("a translator"),
}


@router.get(POLICY)
def policy(request: Request, service: ServiceDep, who: AgentDep) -> Response:
    rows = _versions(service)
    return page(
        request, service, "policy.html", who,
        here="policy", version=rows[0].version, sections=_shown(service, rules_of(rows[0], service.in_force.file)),
        versions=_history(service, rows), may_change=who.agent.role == Role.COORDINATOR,
    )  # fmt: skip


@router.get(POLICY + "/versions/{policy_version}")
def one_version(request: Request, service: ServiceDep, who: AgentDep, policy_version: str) -> Response:
    rows = _versions(service)
    row = next((each for each in rows if str(each.version) == policy_version), None)
    if row is None:
        raise HTTPException(404)
    told = next(each for each in _history(service, rows) if each["row"] is row)
    sections = _shown(service, rules_of(row, service.in_force.file))
    return page(
        request, service, "policy_version.html", who,
        here="policy", told=told, newest=rows[0].version, sections=sections,
    )  # fmt: skip


@router.get(POLICY + "/{policy_part}")
def policy_form(request: Request, service: ServiceDep, who: CoordinatorDep, policy_part: str) -> Response:
    return _form_page(request, service, who, _section(policy_part))


@router.post(POLICY + "/{policy_part}")
def change_policy(
    request: Request, service: ServiceDep, who: CoordinatorDep, form: FormDep, policy_part: str
) -> Response:
    section = _section(policy_part)
    try:
        with writing(service.engine) as session:
            outcome = change(session, service, who, section, form)
    except IntegrityError:  # of two at one instant one has it
        outcome = Outcome(field(form, "version"), gettext(MEANWHILE))
    service.in_force.look()
    if not outcome.stored:
        return _form_page(request, service, who, section, outcome, form)
    return RedirectResponse(f"{POLICY}?done=policy_saved#{section.key}", status_code=303)


def _section(key: str) -> Section:
    if key not in BY_KEY:
        raise HTTPException(404)
    return BY_KEY[key]


def _versions(service: Service) -> list[PolicyRow]:
    """Newest first, and never none: where nothing was seeded yet, what the county file would seed."""
    with reading(service.engine) as session:
        return all_versions(session) or [first_row(service.in_force.file, service.clock.now())]


def _form_page(
    request: Request,
    service: Service,
    who: SignedIn,
    section: Section,
    outcome: Outcome | None = None,
    sent: FormData | None = None,
) -> Response:
    rules, county = service.in_force.rules, service.county
    outcome = outcome or Outcome(str(rules.policy.version))
    values = section.fields(rules, county) if sent is None else {name: field(sent, name) for name in sent}
    return page(
        request, service, f"policy_{section.key}.html", who, 422 if sent is not None else 200,
        here="policy", section=section, outcome=outcome, v=values, looked_at=looked_at(outcome.laxer),
        languages=[(code, own_name(code)) for code in policy_help.others(county)],
        **_words_of(section, rules),
    )  # fmt: skip


def _words_of(section: Section, rules: Rules) -> dict[str, Any]:
    """What the template of one part needs besides."""
    if section.key == "limits":
        return {"limits": policy_limits.LIMITS, "windows": policy_limits.WINDOWS}
    if section.key == "silence":
        return {"labels": policy_silence.LABELS}
    if section.key == "offices":
        return {"week": [(day, policy_offices.day_name(day)) for day in policy_offices.WEEK]}
    if section.key == "help":
        return {"call_back": policy_help.CALL_BACK, "help_lines": policy_help.LINES}
    if section.key == "places":
        return {"rows": policy_places.rows(rules), "had": len(rules.decided.meter_places)}
    return {}


def _shown(service: Service, rules: Rules) -> list[dict[str, Any]]:
    """Each part with its lines; beside a line the county file's value where that is another one."""
    county = service.in_force.file
    own = Rules.of(county)
    theirs = {line.name: line.value for line in all_lines(own, county)}
    return [
        {
            "section": section,
            "lines": [
                {
                    "line": line,
                    "file": theirs.get(line.name, "") if theirs.get(line.name) != line.value else "",
                    "laxer": line.name in section.strictness and section.strictness[line.name].laxer(rules, own),
                }
                for line in section.lines(rules, county)
            ],
        }
        for section in SECTIONS
    ]


def _history(service: Service, rows: list[PolicyRow]) -> list[dict[str, Any]]:
    with reading(service.engine) as session:
        by = _people(session, rows)
    county = service.in_force.file
    labels: dict[str, str] = {}
    for row in reversed(rows):  # a line that is gone has its label from an older version
        labels |= {line.name: line.label for line in all_lines(rules_of(row, county), county)}
    return [
        {
            "row": row,
            "by": by.get(row.made_by or 0, ""),
            "reason": gettext(N_("As in the county file.")) if row.reason == FROM_THE_FILE else row.reason,
            "changes": as_shown(row, labels),
        }
        for row in rows
    ]


def _people(session: Session, rows: list[PolicyRow]) -> dict[int, str]:
    """Who made a version: role first, then the name."""
    ids = {row.made_by for row in rows if row.made_by}
    agents = session.exec(select(Agent).where(Agent.id.in_(ids))) if ids else ()  # type: ignore[attr-defined]
    return {agent.id: f"{gettext(ROLES[Role(agent.role)])} ({agent.name})" for agent in agents}
