"""The handbook and its pictures, for everybody: it holds nothing of any household, and one part is for signing in."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import FileResponse, Response

from guide_service.console import access
from guide_service.console.access import ServiceDep
from guide_service.console.handbook import ADDRESS, PICTURES, handbook
from guide_service.console.pages import page
from guide_service.console.sign_in import signed_in

router = APIRouter(include_in_schema=False)
KEPT = {"Cache-Control": "public, max-age=3600"}


@router.get(ADDRESS)
def handbook_page(request: Request, service: ServiceDep) -> Response:
    who = signed_in(service, access.session_cookie(request, service))
    return page(request, service, "handbook.html", who, here="handbook", book=handbook())


@router.get(f"{ADDRESS}/pictures/{{picture}}")
def handbook_picture(picture: str) -> Response:
    if picture not in handbook().pictures:
        raise HTTPException(404)
    return FileResponse(PICTURES / picture, headers=KEPT)
