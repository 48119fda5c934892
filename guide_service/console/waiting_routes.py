"""The waiting list: the page, the part of it that is asked for again when something changes, and mould in a batch."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Query, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session

from guide_service.console import house_changes, live, visits, words
from guide_service.console.access import HOME, AgentDep, FormDep, ServiceDep, field
from guide_service.console.audit import note
from guide_service.console.catalogue import gettext
from guide_service.console.pages import area_name, page
from guide_service.console.scope import areas_of
from guide_service.console.sign_in import SignedIn
from guide_service.console.translated import in_agents_words
from guide_service.console.waiting import Filters, WaitingList, waiting_list
from guide_service.database import reading, writing
from guide_service.records import Household
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)
LIST = "/console/waiting"
LONGEST_REASON = 200
Word = Annotated[str, Query(max_length=40, pattern="^[a-z_]*$")]


def filters_of(
    state: Word = "",
    reason: Word = "",
    area: Word = "",
    urgency: Annotated[str, Query(max_length=1, pattern="^[1-4]?$")] = "",
    language: Annotated[str, Query(max_length=8, pattern="^[a-z-]*$")] = "",
    page_number: Annotated[int, Query(alias="page", ge=1, le=10_000)] = 1,
) -> Filters:
    return Filters(state, reason, area, urgency, language, page_number)


FiltersDep = Annotated[Filters, Depends(filters_of)]


@router.get(HOME)
def waiting(request: Request, service: ServiceDep, who: AgentDep, filters: FiltersDep) -> Response:
    with writing(service.engine) as session:
        note(session, service, who, "list", None, state=filters.state, reason=filters.reason, area=filters.area,
             page=filters.page)  # fmt: skip
    return page(request, service, "waiting.html", who, here="waiting", **_context(service, who, filters))


@router.get(LIST)
def waiting_part(request: Request, service: ServiceDep, who: AgentDep, filters: FiltersDep) -> Response:
    """What stands below the filters, for a page that is open: its opening is in the audit."""
    return page(request, service, "_waiting.html", who, **_context(service, who, filters))


@router.post("/console/mould-reports/lift-many")
def lift_many(service: ServiceDep, who: AgentDep, form: FormDep) -> Response:
    why = field(form, "why")
    ticked = [int(name[5:]) for name in form if name.startswith("home-") and name[5:].isdigit() and len(name) < 25]
    if not why or len(why) > LONGEST_REASON or not ticked:
        raise HTTPException(422)
    with writing(service.engine) as session:
        lifted = house_changes.lift_routine(session, service, who, ticked, why)
    for household in lifted:
        visits.weigh_again(service, who, household, "agent.mould_lifted")
    return RedirectResponse(f"{HOME}?done={'lifted' if len(lifted) == len(ticked) else 'lifted_some'}", status_code=303)


def _context(service: Service, who: SignedIn, filters: Filters) -> dict[str, Any]:
    with reading(service.engine) as session:
        mark = live.waiting_mark(session)  # before the list: a change between the two is heard of, not lost
        found = waiting_list(session, service.county, who.agent, filters, in_agents_words(service))
        newest = _newest_in_words(session, service, found)
    return {
        "list": found,
        "filters": filters,
        "areas": areas_of(who.agent, service.county),
        "languages": service.county.languages,
        "mark": mark,
        "newest": newest,
        "part_address": f"{LIST}?{filters.address(filters.page)}",
        "page_address": lambda number: f"{HOME}?{filters.address(number)}",
    }


def _newest_in_words(session: Session, service: Service, found: WaitingList) -> str:
    """What a screen reader says when it appears."""
    if found.newest is None:
        return gettext("Nobody is waiting.")
    home = session.get_one(Household, found.newest.household_id)
    said = {"urgency": words.urgency(found.newest.urgency), "reason": words.reason(found.newest.reason),
            "area": area_name(service, home.area), "count": found.waiting}  # fmt: skip
    return gettext("%(count)s waiting. Newest, %(urgency)s: %(reason)s, %(area)s.") % said
