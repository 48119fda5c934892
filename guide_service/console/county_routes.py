"""The picture of the county, for the areas that an agent sees; the situation report, for coordinators."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import PlainTextResponse, RedirectResponse, Response
from markupsafe import Markup

from guide_service.console import dry_curve, times, words
from guide_service.console.access import AgentDep, CoordinatorDep, ServiceDep
from guide_service.console.audit import note
from guide_service.console.catalogue import gettext
from guide_service.console.county_figures import Figures, figures, households_of, signed
from guide_service.console.pages import page
from guide_service.console.report_text import as_text
from guide_service.console.scope import areas_of
from guide_service.console.sign_in import SignedIn
from guide_service.console.situation_report import Report, situation_report
from guide_service.database import reading, writing
from guide_service.followup.county_counts import EVERY
from guide_service.wiring import Service

COUNTY = "/console/county"
LATE = 3 * EVERY
"""Counts that are older than this are said to be old: the worker does not count."""
router = APIRouter(include_in_schema=False)
_Word = Annotated[str, Query(max_length=40, pattern="^[A-Za-z_-]*$")]


@router.get(COUNTY)
def county(request: Request, service: ServiceDep, who: AgentDep, area: _Word = "", language: _Word = "") -> Response:
    with reading(service.engine) as session:
        found = figures(session, service.county, who.agent, area, language)
    context = _picture(service, found) if found else {}
    return page(
        request,
        service,
        "county.html",
        who,
        here="county",
        found=found,
        area=area,
        language=language,
        areas=areas_of(who.agent, service.county),
        languages=service.county.languages,
        **context,
    )


@router.get(f"{COUNTY}/report")
def report(request: Request, service: ServiceDep, who: CoordinatorDep) -> Response:
    found = _report(service, who)
    if found is None:
        return _nothing_yet()
    return page(request, service, "report.html", who, here="county", report=found, text=as_text(found))


@router.get(f"{COUNTY}/report.txt")
def report_as_text(service: ServiceDep, who: CoordinatorDep) -> Response:
    found = _report(service, who)
    return PlainTextResponse(as_text(found)) if found else _nothing_yet()


def _nothing_yet() -> Response:
    """To the page that says so."""
    return RedirectResponse(COUNTY, status_code=303)


def _report(service: Service, who: SignedIn) -> Report | None:
    with reading(service.engine) as session:
        found = figures(session, service.county, who.agent)
    if found is None:
        return None
    with writing(service.engine) as session:
        note(session, service, who, "report", None, day=found.day.isoformat())
    return situation_report(found, service.county, service.clock.now())


def _picture(service: Service, found: Figures) -> dict[str, Any]:
    weeks = dry_curve.by_week(found.weeks("dry_week"), found.weeks("late_week"), found.day)
    stages = [stage for stage in words.STAGES if found.number("stage", stage) or found.then["stage", stage]]
    return {
        "old": service.clock.now() - found.counted_at > LATE,
        "stages": stages,
        "most": max((found.number("stage", stage) for stage in stages), default=0),
        "signed": signed,
        "households_of": households_of,
        "language_name": _language_name,
        "weeks": weeks,
        "curve": Markup(_curve(found, weeks)),
    }


def _curve(found: Figures, weeks: list[dry_curve.Week]) -> str:
    passed = (found.weeks("dry_week")[0][1], found.weeks("late_week")[0][1])
    names = {
        "title": gettext("Households expected dry, by the end of each week"),
        # NOTE: at the end of a line of a small chart: at most 15 letters
        "likely": gettext("likely day"),
        # NOTE: at the end of a line of a small chart: at most 15 letters
        "late": gettext("late end"),
        # NOTE: at the end of a line of a small chart: at most 15 letters
        "all": gettext("all not dry yet"),
    }
    return dry_curve.draw(weeks, passed, found.number("flag", "not_dry"), names, times.short_day)


def _language_name(language: str) -> str:
    return words.word(words.LANGUAGES, language) or gettext("not chosen yet")
