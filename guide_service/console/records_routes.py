"""The page of what a coordinator decides about records, with the way to each part."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import select

from guide_service.console.access import CoordinatorDep, ServiceDep
from guide_service.console.pages import page
from guide_service.console.recall_page import all_recalls
from guide_service.console.retention_rows import is_late, kept
from guide_service.database import reading
from guide_service.deletion.deciding import decisions, open_requests
from guide_service.records import Agent

router = APIRouter(include_in_schema=False)
RECORDS = "/console/records"
DECISIONS = 20
"""The newest on the page."""


@router.get(RECORDS)
def records(request: Request, service: ServiceDep, who: CoordinatorDep) -> Response:
    with reading(service.engine) as session:
        recalls = all_recalls(session)
        keeping = kept(session, service)
        requests, decided = open_requests(session), decisions(session, DECISIONS)
        names = {agent.id: agent.name for agent in session.exec(select(Agent))}
    return page(
        request,
        service,
        "records.html",
        who,
        here="records",
        recalls=recalls,
        requests=requests,
        decided=decided,
        keeping=keeping,
        late=is_late(keeping, service.clock.now()),
        agent_name=lambda key: names.get(key, ""),
    )
