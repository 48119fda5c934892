"""A coordinator takes out the file of a household or of an area for a records request; that he or she did is kept."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response, StreamingResponse
from sqlalchemy import func
from sqlmodel import Session, select
from starlette.datastructures import FormData

from guide_service.console.access import CoordinatorDep, FormDep, HouseholdAsked, ServiceDep, field, row_id
from guide_service.console.audit import note
from guide_service.console.catalogue import N_, gettext
from guide_service.console.household_file import household_in_scope
from guide_service.console.pages import page
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading, writing
from guide_service.exporting.zipping import Wanted, exported
from guide_service.records import Household
from guide_service.wiring import Service

router = APIRouter(include_in_schema=False)
EXPORT = "/console/records/export"
MOST_HOUSEHOLDS = 5_000
"""Of one download: some minutes. More is for the command line, which nobody waits for in a browser."""
NO_REASON = N_("Say for whom, and under which request.")
NO_AREA = N_("Choose an area.")
TOO_MANY = N_("More than %(count)s households: whoever runs the service takes them out with the command export.")


@router.get(EXPORT)
def form(
    request: Request,
    service: ServiceDep,
    who: CoordinatorDep,
    household: HouseholdAsked = "",
) -> Response:
    return _form_page(request, service, who, FormData({"household": household}))


@router.post(EXPORT)
def take_out(request: Request, service: ServiceDep, who: CoordinatorDep, form: FormDep) -> Response:
    """The audit row is there before the first byte leaves."""
    problem, wanted = None, _wanted(service, form)
    if not field(form, "reason"):
        problem = gettext(NO_REASON)
    elif wanted is None:
        problem = gettext(NO_AREA)
    with writing(service.engine) as session:
        if wanted is not None and wanted.household is not None:
            household_in_scope(session, service.county, who.agent, wanted.household)
        elif wanted is not None and _count(session, wanted) > MOST_HOUSEHOLDS:
            problem = gettext(TOO_MANY) % {"count": MOST_HOUSEHOLDS}
        if problem is None and wanted is not None:
            detail = {"area": wanted.area or "", "numbers": "whole" if wanted.numbers else "masked"}
            note(session, service, who, "export", wanted.household, **detail, reason=field(form, "reason")[:200])
    if problem or wanted is None:
        return _form_page(request, service, who, form, problem)
    name = f"household-{wanted.household}" if wanted.household is not None else f"area-{wanted.area}"
    disposition = {"Content-Disposition": f'attachment; filename="{name}.zip"'}
    return StreamingResponse(exported(service, wanted), media_type="application/zip", headers=disposition)


def _wanted(service: Service, form: FormData) -> Wanted | None:
    numbers, household, area = bool(field(form, "numbers")), field(form, "household"), field(form, "area")
    if household:
        return Wanted(household=row_id(household), numbers=numbers)
    return Wanted(area=area, numbers=numbers) if area in {each.id for each in service.county.areas} else None


def _count(session: Session, wanted: Wanted) -> int:
    return session.exec(select(func.count()).select_from(Household).where(Household.area == wanted.area)).one()


def _form_page(
    request: Request, service: Service, who: SignedIn, form: FormData, problem: str | None = None
) -> Response:
    household, home = field(form, "household"), None
    if household:
        with reading(service.engine) as session:
            home = household_in_scope(session, service.county, who.agent, row_id(household))
    return page(
        request, service, "export.html", who, 422 if problem else 200, here="records", problem=problem, sent=form,
        of_household=home, areas=service.county.areas,
    )  # fmt: skip
