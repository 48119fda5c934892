"""The pages of notices: the list, one notice as a draft with its preview, one that is being sent with its progress."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from babel.dates import format_timedelta
from babel.numbers import format_currency
from fastapi import HTTPException, Request
from fastapi.responses import HTMLResponse
from sqlalchemy import ColumnElement, func, true
from sqlmodel import Session, col, select

from guide_service.console import words
from guide_service.console.catalogue import N_, gettext, locale
from guide_service.console.pages import page
from guide_service.console.scope import sees_everything
from guide_service.console.sign_in import SignedIn
from guide_service.console.times import local_time
from guide_service.database import reading
from guide_service.notices.choice import Choice
from guide_service.notices.deciding import Refused
from guide_service.notices.preview import approved, people_not_reached, people_without_text, preview
from guide_service.notices.progress import in_line, progress
from guide_service.records import Agent, Contact, Household, Notice, NoticeRecipient
from guide_service.wiring import Service

LISTED = 100
"""The newest notices."""
NAMED = 100
"""People without a text on one page."""
REFUSALS = {
    Refused.GONE: N_("It is no draft any more, or no longer being sent."),
    Refused.CHANGED: N_("It was changed since you saw it. Look again."),
    Refused.OWN: N_("You wrote or changed it: somebody else must approve it."),
    Refused.NOBODY: N_("Nobody would get it."),
    Refused.TOO_LONG: N_("It is too long: shorten it to three segments, or to six where accents need more room."),
    Refused.NOT_APPROVED: N_("A second person must approve it first."),
}


@dataclass(frozen=True, slots=True)
class Listed:
    notice: Notice
    people: int


def own_notices(agent: Agent) -> ColumnElement[bool]:
    return true() if sees_everything(agent) else col(Notice.office) == agent.office


def notice_in_scope(session: Session, agent: Agent, notice_id: int, *, lock: bool = False) -> Notice:
    """The notice, or 404 when there is none for this agent."""
    query = select(Notice).where(Notice.id == notice_id, own_notices(agent))
    found = session.exec(query.with_for_update() if lock else query).first()
    if found is None:
        raise HTTPException(404)
    return found


def list_page(request: Request, service: Service, who: SignedIn) -> HTMLResponse:
    counted = select(func.count()).where(NoticeRecipient.notice_id == Notice.id).correlate(Notice).scalar_subquery()
    query = select(Notice, counted).where(own_notices(who.agent), Notice.state != "dropped")
    with reading(service.engine) as session:
        rows = [Listed(*row) for row in session.exec(query.order_by(col(Notice.id).desc()).limit(LISTED))]
        names = _names(session)
    return page(
        request, service, "notices.html", who, here="notices", notices=rows, agent_name=names, when=_when(service)
    )


def notice_page(
    request: Request, service: Service, who: SignedIn, notice_id: int, refused: Refused | None = None
) -> HTMLResponse:
    with reading(service.engine) as session:
        notice = notice_in_scope(session, who.agent, notice_id)
        context = _draft(session, service, who, notice) if notice.state == "draft" else _sent(session, service, notice)
        context["agent_name"] = _names(session)
    problem = gettext(REFUSALS[refused]) if refused else None
    status = {None: 200, Refused.OWN: 403}.get(refused, 409)
    choice = chosen_words(service, Choice.of(notice.choice))
    return page(
        request, service, "notice.html", who, status, here="notices", notice=notice, problem=problem, choice=choice,
        when=_when(service), **context,
    )  # fmt: skip


def progress_part(request: Request, service: Service, who: SignedIn, notice_id: int) -> HTMLResponse:
    with reading(service.engine) as session:
        notice = notice_in_scope(session, who.agent, notice_id)
        context = _sent(session, service, notice)
    return page(request, service, "_notice_progress.html", who, notice=notice, **context)


def without_text_page(request: Request, service: Service, who: SignedIn, notice_id: int, after: int) -> HTMLResponse:
    with reading(service.engine) as session:
        notice = notice_in_scope(session, who.agent, notice_id)
        found = people_without_text(session, service, notice, after, NAMED + 1)
    return _people_page(request, service, who, notice, found, "without-text")


def not_reached_page(request: Request, service: Service, who: SignedIn, notice_id: int, after: int) -> HTMLResponse:
    with reading(service.engine) as session:
        notice = notice_in_scope(session, who.agent, notice_id)
        found = people_not_reached(session, notice, after, NAMED + 1)
    return _people_page(request, service, who, notice, found, "not-reached")


def _people_page(
    request: Request,
    service: Service,
    who: SignedIn,
    notice: Notice,
    found: list[tuple[Contact, Household]],
    which: str,
) -> HTMLResponse:
    more = found[NAMED - 1][0].id if len(found) > NAMED else None
    return page(
        request, service, "notice_people.html", who, here="notices", notice=notice, people=found[:NAMED], more=more,
        which=which,
    )  # fmt: skip


def chosen_words(service: Service, choice: Choice) -> list[tuple[str, str]]:
    """The choice as it is read: what, and which."""
    areas = [area.name for area in service.county.areas if area.id in choice.areas]
    areas += [gettext("area not known")] if choice.area_unknown else []
    parts = [
        (gettext("Areas"), areas),
        (gettext("Stages"), [words.word(words.STAGES, each) for each in choice.stages]),
        (gettext("Languages"), [words.word(words.LANGUAGES, each) for each in choice.languages]),
        (gettext("Worst place"), [words.word(words.BANDS, each) for each in choice.bands]),
        (gettext("Phones"), [gettext("also those who only help") if choice.helpers else gettext("residents")]),
    ]
    return [(name, ", ".join(values) or gettext("all")) for name, values in parts]


def _draft(session: Session, service: Service, who: SignedIn, notice: Notice) -> dict[str, Any]:
    seen = preview(session, service, notice)
    return {
        "seen": seen,
        "mine": str(who.agent.id) in notice.authors,
        "approved": approved(notice, seen),
        "cost": money(seen.cost, service.county.notices.currency),
        "takes": format_timedelta(
            max(seen.takes, dt.timedelta(minutes=1)), threshold=1.5, granularity="minute", locale=locale()
        ),
    }


def _sent(session: Session, service: Service, notice: Notice) -> dict[str, Any]:
    counts = progress(session, notice, service.county.hours, service.clock.now())
    can_stop = notice.state == "sending" or (notice.state == "done" and in_line(counts))
    return {"counts": counts, "total": sum(counts.values()), "can_stop": can_stop}


def money(amount: Decimal | None, currency: str) -> str | None:
    return None if amount is None else str(format_currency(amount, currency, locale=locale()))


def _names(session: Session) -> Any:
    names = {str(agent.id): agent.name for agent in session.exec(select(Agent))}
    return lambda key: names.get(str(key), gettext("someone"))


def _when(service: Service) -> Any:
    zone = service.county.zone(None)
    return lambda at: local_time(at, zone) if at else ""
