"""Messages that callers left and pictures, shown to an agent who may see the file: fetched from the carrier with the
county's sign-in, handed on without being kept, and each time one line in the audit."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException
from fastapi.responses import Response

from guide_service.carrier.kept import SHOWN, Kept, NotToBeHad, resource_of
from guide_service.console.access import AgentDep, ServiceDep, row_id
from guide_service.console.audit import note
from guide_service.console.house_changes import of_household_in_scope
from guide_service.database import writing
from guide_service.records import Message
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)
PATH = "/console/messages/{message}/kept/{number}"
AS_A_FILE = "application/octet-stream"


def kept_address(service: Service, message: Message, number: int) -> str | None:
    """Where the page gets the ``number``-th of a message (from 1); None for what is not at the carrier."""
    resource = _resource(service, message, number)
    return PATH.format(message=message.id, number=number) if resource is not None else None


@router.get(PATH)
def kept(service: ServiceDep, who: AgentDep, message: str, number: str) -> Response:
    with writing(service.engine) as session:
        row = of_household_in_scope(session, service, who, Message, row_id(message))
        resource = _resource(service, row, int(number)) if number.isascii() and number.isdigit() else None
        if resource is None:
            raise HTTPException(404)
        note(session, service, who, "heard_or_seen", row.household_id, message=row.id)
    return _handed_on(_from_carrier(service, resource))


def _from_carrier(service: Service, resource: str) -> Kept:
    """Asked outside of any transaction."""
    try:
        found = service.sender.fetch(resource)
    except NotToBeHad as problem:
        raise HTTPException(502) from problem
    if found is None:
        raise HTTPException(404)
    return found


def _handed_on(found: Kept) -> Response:
    shown = found.type in SHOWN
    kind = found.type if shown else AS_A_FILE
    return Response(found.content, media_type=kind, headers={} if shown else {"Content-Disposition": "attachment"})


def _resource(service: Service, message: Message, number: int) -> str | None:
    held = message.media or []
    url = held[number - 1].get("url", "") if 1 <= number <= len(held) else ""
    return resource_of(url, service.settings.account_sid)
