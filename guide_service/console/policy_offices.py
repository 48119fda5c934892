"""When somebody is in each office: texts name the next opening, and all alarms but those of danger wait for it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from babel.dates import get_day_names

from guide_service.console.catalogue import N_, gettext, locale
from guide_service.console.policy_form import Form
from guide_service.console.policy_lines import Line, minutes
from guide_service.county import County, Office
from guide_service.county_decided import OfficeHours, Rules

OPEN = N_("%(days)s, %(opens)s to %(closes)s")
NO_DAY = N_("On one day at least.")
BACKWARDS = N_("It closes after it opens.")
WEEK = range(7)


def lines(rules: Rules, county: County) -> list[Line]:
    return [
        Line(f"office_{office.id}", office.name, _open(hours), hours.source)
        for office in county.offices
        if (hours := hours_of(rules, office))
    ]


def fields(rules: Rules, county: County) -> dict[str, str]:
    values: dict[str, str] = {}
    for office in county.offices:
        hours = hours_of(rules, office)
        values |= {
            f"{office.id}_opens": f"{hours.opens:%H:%M}",
            f"{office.id}_closes": f"{hours.closes:%H:%M}",
            f"source_{office.id}": hours.source,
        }
        values |= {f"{office.id}_day{day}": "1" for day in hours.days}
    return values


def read(form: Form, before: Rules, county: County) -> Rules:
    offices = {**before.decided.offices, **{office.id: _hours(form, office) for office in county.offices}}
    return replace(before, decided=before.decided.model_copy(update={"offices": offices}))


def _hours(form: Form, office: Office) -> OfficeHours:
    opens, closes = form.time(f"{office.id}_opens"), form.time(f"{office.id}_closes")
    days = tuple(day for day in WEEK if form.ticked(f"{office.id}_day{day}"))
    if minutes(closes) <= minutes(opens):
        form.refuse(f"{office.id}_closes", BACKWARDS)
    if not days:
        form.refuse(f"{office.id}_days", NO_DAY)
    return OfficeHours(opens=opens, closes=closes, days=days, source=form.source(f"source_{office.id}"))


def hours_of(rules: Rules, office: Office) -> OfficeHours:
    stored = rules.decided.offices.get(office.id)
    return stored or OfficeHours(opens=office.opens, closes=office.closes, days=office.days, source=office.source)


def _open(hours: OfficeHours) -> str:
    days = ", ".join(day_name(day) for day in hours.days)
    return gettext(OPEN) % {"days": days, "opens": _at(hours.opens), "closes": _at(hours.closes)}


def _at(time: dt.time) -> str:
    return f"{time:%H:%M}"


def day_name(day: int) -> str:
    return str(get_day_names("abbreviated", locale=locale())[day])
