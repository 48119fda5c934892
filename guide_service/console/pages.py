"""Pages from templates: the one environment, and the words and times that every template may use."""

from __future__ import annotations

import datetime as dt
import hashlib
from functools import cache, partial
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from fastapi.templating import Jinja2Templates
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from guide_service.console import access, catalogue, figures, times, tongue, words
from guide_service.console.because import because, house_of
from guide_service.console.catalogue import N_, gettext
from guide_service.console.roles import AGENTS, HOMES, TRANSLATORS, Role, home_of
from guide_service.console.sign_in import SignedIn
from guide_service.records import Contact, Household, ReadingRow
from guide_service.wiring import Service
from guide_service.wording.formats import direction, own_name

HERE = Path(__file__).parent
STATIC = HERE / "static"
HOME = HOMES[Role.AGENT]


def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    environment.install_gettext_callables(  # type: ignore[attr-defined]
        catalogue.gettext, catalogue.ngettext, True, catalogue.pgettext, catalogue.npgettext
    )
    environment.globals |= {
        "words": words,
        "word": words.word,
        "masked": masked,
        "number": number,
        "day": times.day,
        "short_day": times.short_day,
        "asset": asset,
        "stage": stage,
        "bdi": bdi,
        "because": because,
        "house_of": house_of,
        "count": figures.count,
        "measured": figures.measured,
        "as_text": catalogue.gettext,  # for a translation with signs that mean something in HTML
        "page_language": catalogue.language,
        "page_languages": catalogue.languages,
        "direction": direction,
        "own_name": own_name,
        "ASKED": tongue.ASKED,
    }
    return environment


def masked(contact: Contact) -> str:
    """The last digits only: enough to tell two phones apart."""
    return f"\N{HORIZONTAL ELLIPSIS}{contact.last_digits}"


def bdi(text: object, kind: str = "") -> Markup | str:
    """A name or somebody's words as a run of text of its own: nothing jumps over it beside the other direction.

    ``kind``: a class of the style sheet, as ``number`` for what must not break over two lines.
    """
    if not text:
        return ""
    return Markup('<bdi class="{}">{}</bdi>').format(kind, text) if kind else Markup("<bdi>{}</bdi>").format(text)


def number(reading: ReadingRow) -> str:
    """A reading with its qualifier; a colour where there was no number."""
    if reading.value is None:
        return words.word({}, reading.colour) or "?"
    sign = {"above": ">", "below": "<"}.get(reading.qualifier, "")
    return f"{sign}{figures.measured(reading.value)}"


def stage(value: str) -> str:
    return words.word(words.STAGES, value)


@cache
def asset(name: str) -> str:
    """Address of a file of ours; it changes with the file, so that browsers may keep it."""
    digest = hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:12]
    return f"/console/static/{name}?v={digest}"


templates = Jinja2Templates(env=_environment())

DONE = {
    "claimed": N_("Claimed: it is yours."),
    "taken": N_("Somebody else was first: it is no longer free."),
    "released": N_("Released: it waits again."),
    "settled": N_("Settled."),
    "sent": N_("Your text is on its way."),
    "taken_over": N_("Taken over: they are told, and the guide keeps silent, except for danger and stop."),
    "handed_back": N_("Handed back: the guide answers again."),
    "lifted_some": N_("Lifted, but not all: somebody has taken one on, or it has become urgent."),
    "noted": N_("Noted."),
    "lent": N_("Lent: the household is told, and reminded on the day."),
    "loan_longer": N_("They may keep it longer, and are told until when."),
    "loan_back": N_("Noted: the meter is back. The household is told."),
    "raised": N_("Raised: it stands on the waiting list."),
    "corrected": N_("Corrected. The old reading is kept, and the household is told."),
    "withdrawn": N_("Taken out. The old reading is kept, and the household is told."),
    "readings_added": N_("Added: they count as confirmed, and the household is told what they mean."),
    "wall_renamed": N_("The wall has its new name; the labels on the studs stay. The household is told."),
    "wall_removed": N_("The wall is off the list, and its numbers count no longer. The household is told."),
    "stage_set": N_("The stage is set."),
    "check_set": N_("The next check is set, its reminder moved with it, and the household is told."),
    "check_none": N_("No check is set any more; the reminder is gone."),
    "phone_added": N_("The phone is added."),
    "merged": N_("Merged: everything of both stands here."),
    "merge_differs": N_("Not merged: both have readings of one day and place that differ. Correct one of them first."),
    "merge_unknown": N_("Not merged: there is no such household in your areas."),
    "lifted": N_("The mold report is lifted."),
    "flooded": N_("Declared: earlier readings of that area no longer count."),
    "confirmed": N_("Confirmed."),
    "recalled": N_("Recalled. Each household is weighed anew and told within minutes."),
    "deletion_all": N_("Granted. The household is told; it is carried out in a day, unless it is taken back."),
    "deletion_in_part": N_("Granted in part. The household is told; carried out in a day, unless it is taken back."),
    "deletion_refuse": N_("Refused. The household is told why."),
    "deletion_taken_back": N_("Taken back. Nothing is deleted."),
    "recall_undone": N_("Taken back. Each household that was told of it is weighed anew and told within minutes."),
    "recall_ended": N_("Noted: what is measured with this meter from then on counts."),
    "pin_ended": N_("Ended: the log's PIN opens nothing any more."),
    "ended": N_("Ended: that phone hears nothing more of this household."),
    "assigned": N_("Assigned: the volunteer sees the house on those days."),
    "round_ended": N_("Ended: the volunteer does not see the house any more."),
    "language": N_("These pages speak to you in this language from now on."),
    "password": N_("Your password is changed. Everywhere else you are signed out."),
    "session_ended": N_("Signed out there."),
    "factor_removed": N_("The second factor is taken off."),
    "code_ended": N_("The code opens nothing any more."),
    "policy_saved": N_("Saved: it counts from now on."),
    "notice_saved": N_("Saved. Nothing has been sent."),
    "notice_approved": N_("Approved. It can be started now."),
    "notice_started": N_("Started."),
    "notice_stopped": N_("Stopped: what was still in line is not sent."),
    "notice_dropped": N_("Dropped."),
    "text_saved": N_("Saved as a draft: it needs a speaker's review."),
    "text_reviewed": N_("Signed. It is in use once the catalogue is brought in."),
    "text_taken_back": N_("The mark is taken back."),
}

NOT_DONE = frozenset({"taken", "lifted_some", "merge_differs", "merge_unknown"})
"""Of them those that say what was not done."""


def page(
    request: Request, service: Service, name: str, who: SignedIn | None = None, status: int = 200, **context: Any
) -> HTMLResponse:
    """One page. ``who`` is None only on the sign-in page and for errors before it."""
    answer = request.query_params.get("done", "")
    done = DONE.get(answer)
    context |= {
        "who": who,
        "is_agent": who is not None and who.agent.role in AGENTS,
        "sees_texts": who is not None and who.agent.role in TRANSLATORS,
        "county": service.county,
        "done": gettext(done) if done else None,
        "refused": answer in NOT_DONE,
        "csrf": partial(_csrf_field, who),
        "area_name": partial(area_name, service),
        "office_name": partial(_office_name, service),
        "at": partial(_at, service),
        "first_page": home_of(who.agent.role) if who else HOME,
        "local": partial(_local, service),
        "clock": partial(_clock, service),
        "since_flood": partial(_since_flood, service),
        "power": _power,
        "how_long": partial(_how_long, service.clock.now()),
    }
    context.setdefault("here", "")
    context["answers_form"] = request.method == "POST" and name != "problem.html"
    response = templates.TemplateResponse(request, name, context, status_code=status)
    if chosen := tongue.asked(request):
        access.set_cookie(service, response, tongue.COOKIE, chosen, tongue.KEPT_SECONDS)
    return response


def today_of(service: Service) -> dt.date:
    """By the county's own clock."""
    return service.clock.now().astimezone(service.county.zone(None)).date()


def _csrf_field(who: SignedIn | None) -> Markup:
    return Markup('<input type="hidden" name="csrf" value="{}">').format(who.csrf if who else "")


def area_name(service: Service, area: str | None) -> str:
    found = next((each.name for each in service.county.areas if each.id == area), None)
    return found or area or gettext("area not known")


def _office_name(service: Service, office: str) -> str:
    return next((each.name for each in service.county.offices if each.id == office), office)


def _at(service: Service, at: dt.datetime) -> str:
    """An instant that is of no household, in the county's time."""
    return times.local_time(at, service.county.zone(None))


def _since_flood(service: Service, home: Household) -> str:
    """Days since the flood; where the county names no day, since the household was first heard."""
    today = service.clock.now().astimezone(service.county.zone(home.area)).date()
    day, text = service.county.flood_day(home.area), N_("day %(days)s since the flood")
    if day is None:
        day, text = home.created_at.astimezone(service.county.zone(home.area)).date(), N_("day %(days)s with us")
    if home.flooded_again_on and home.flooded_again_on > day:
        day, text = home.flooded_again_on, N_("day %(days)s since it flooded again")
    return gettext(text) % {"days": max((today - day).days, 0)}


def _power(home: Household) -> str:
    told = home.facts.get("power_on")
    if told is None:
        return {"yes": gettext("power off")}.get(str(home.facts.get("power_off")), "")
    return gettext("power on") if told else gettext("power not checked")


def _local(service: Service, at: dt.datetime | None, household: Household) -> str:
    return times.local_time(at, service.county.zone(household.area)) if at else ""


def _clock(service: Service, at: dt.datetime, household: Household) -> str:
    return times.clock_time(at, service.county.zone(household.area))


def _how_long(now: dt.datetime, since: dt.datetime | None) -> str:
    return times.how_long(since, now) if since else ""
