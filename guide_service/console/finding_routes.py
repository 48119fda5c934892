"""Finding a household: lists whose filters stand in the address, the same as a file, and numbers by POST only."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Query, Request
from fastapi.responses import RedirectResponse, Response, StreamingResponse

from guide_service.console import access
from guide_service.console.access import AgentDep, FormDep, ServiceDep
from guide_service.console.audit import note
from guide_service.console.finding import (
    FLAGS,
    Found,
    Page,
    Wanted,
    every_one,
    find,
    find_number,
    holds_a_number,
    order_of,
)
from guide_service.console.lists_as_csv import as_csv
from guide_service.console.meters import count_overdue
from guide_service.console.pages import page, today_of
from guide_service.console.scope import areas_of
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading, writing
from guide_service.dialogue.stages import Stage
from guide_service.wiring import Service

FINDING = "/console/finding"
LONGEST_WORDS = 60
router = APIRouter(include_in_schema=False)
_Word = Annotated[str, Query(max_length=40, pattern="^[A-Za-z_-]*$")]
_Flag = Annotated[str, Query(pattern="^1?$")]


def wanted_of(
    q: Annotated[str, Query(max_length=LONGEST_WORDS)] = "",
    stage: _Word = "",
    band: _Word = "",
    area: _Word = "",
    language: _Word = "",
    overdue: _Flag = "",
    stalled: _Flag = "",
    unreached: _Flag = "",
    mould: _Flag = "",
    after: Annotated[str, Query(max_length=31, pattern=r"^[0-9.-]*$")] = "",
) -> Wanted:
    if holds_a_number(q):
        raise HTTPException(422)
    chosen = zip(FLAGS, (overdue, stalled, unreached, mould), strict=True)
    flags = tuple(name for name, value in chosen if value)
    return Wanted(q.strip(), stage, band, area, language, flags, _checked(after, order_of(flags)))


WantedDep = Annotated[Wanted, Depends(wanted_of)]


@router.get(FINDING)
def finding(request: Request, service: ServiceDep, who: AgentDep, wanted: WantedDep) -> Response:
    with writing(service.engine) as session:
        note(session, service, who, "find", None, filters=wanted.query())
    with reading(service.engine) as session:
        found = find(session, service.county, who.agent, wanted, today_of(service))
    return _shown(request, service, who, wanted, found)


@router.post(FINDING)
def finding_sent(request: Request, service: ServiceDep, who: AgentDep, form: FormDep) -> Response:
    """One box for everything: words go into the address, a number never does."""
    words = access.field(form, "q")[:LONGEST_WORDS]
    if not holds_a_number(words):
        query = Wanted(words).query()
        return RedirectResponse(f"{FINDING}?{query}" if query else FINDING, status_code=303)
    with reading(service.engine) as session:
        rows = find_number(session, service.county, who.agent, service.sealer, words)
    with writing(service.engine) as session:
        note(session, service, who, "find_number", None, found=len(rows))
    if len(rows) == 1:
        return RedirectResponse(f"/console/households/{rows[0].household.id}", status_code=303)
    return _shown(request, service, who, Wanted(), Page(tuple(rows), ""), by_number=True)


@router.get(f"{FINDING}.csv")
def finding_as_file(service: ServiceDep, who: AgentDep, wanted: WantedDep) -> Response:
    with writing(service.engine) as session:
        note(session, service, who, "export", None, filters=wanted.query())
    today = today_of(service)
    lines = as_csv(every_one(service.engine, service.county, who.agent, wanted, today), service.county)
    name = f'attachment; filename="households-{today}.csv"'
    return StreamingResponse(lines, media_type="text/csv; charset=utf-8", headers={"Content-Disposition": name})


def _shown(
    request: Request, service: Service, who: SignedIn, wanted: Wanted, found: Page, *, by_number: bool = False
) -> Response:
    today = today_of(service)
    with reading(service.engine) as session:
        overdue = count_overdue(session, service.county, who.agent, today)
    return page(
        request,
        service,
        "finding.html",
        who,
        here="finding",
        wanted=wanted,
        found=found,
        by_number=by_number,
        areas=areas_of(who.agent, service.county),
        stages=["unknown", *(str(stage) for stage in Stage)],
        languages=service.county.languages,
        next_address=f"{FINDING}?{wanted.query(found.next_after)}" if found.next_after else "",
        file_address=f"{FINDING}.csv?{wanted.query()}",
        today=today,
        meters_overdue=overdue,
        title_of=_title,
    )


def _title(found: Found) -> str:
    """Something to recognise it by: the address, a name, the number's last digits."""
    return found.household.address or found.name or (f"\N{HORIZONTAL ELLIPSIS}{found.digits}" if found.digits else "?")


def _checked(after: str, order: str) -> str:
    """A key of the right kind for this order; 422 for what is none."""
    first, _, key = after.rpartition(".")
    try:
        if after and bool(first) is not (order != "newest"):
            raise ValueError
        if first and order == "day":
            dt.date.fromisoformat(first)
        elif first and not (first.isdigit() and len(first) == 1):
            raise ValueError
        if after and not (key.isdigit() and int(key) < 2**63):
            raise ValueError
    except ValueError:
        raise HTTPException(422) from None
    return after
