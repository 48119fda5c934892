"""What the page of one household shows: the file, put in the order in which it is read."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from sqlmodel import Session

from guide_service.carrier.delivery import FAILED
from guide_service.console import words
from guide_service.console.answering import Objection, can_be_texted
from guide_service.console.audit import note
from guide_service.console.catalogue import N_, gettext
from guide_service.console.household_file import VISITS, HouseholdFile, cells, household_in_scope, read_file
from guide_service.console.pages import masked, page
from guide_service.console.recent import last_said, recent_texts
from guide_service.console.sign_in import SignedIn
from guide_service.console.understood import understood
from guide_service.database import reading, writing
from guide_service.records import Check, Household, Message
from guide_service.wiring import Service
from guide_service.wording.gsm import BASIC_SET, EXTENSION_SET, gsm_safe
from guide_service.wording.segments import segments

_TYPOGRAPHY = [*map(chr, range(0x80, 0x2100)), "\u2212", "\ufeff"]
ALPHABET = {
    "basic": "".join(sorted(BASIC_SET)),
    "extension": "".join(sorted(EXTENSION_SET)),
    "plain": {each: gsm_safe(each) for each in _TYPOGRAPHY if gsm_safe(each) != each},
}
"""For the count while one types: the tables of ``wording.gsm``, so that page and server cannot differ."""

OBJECTIONS = {
    Objection.EMPTY: N_("There is nothing to send yet."),
    Objection.TOO_LONG: N_("This is too long for one text: the carrier takes 1,600 characters."),
    Objection.LONG: N_("This is long: it may arrive in pieces and out of order."),
}


@dataclass(frozen=True, slots=True)
class Draft:
    """An answer that was not sent, shown again with what is wrong with it."""

    text: str = ""
    contact: str = ""
    objection: Objection | None = None


@dataclass(frozen=True, slots=True)
class Shown:
    """What one request shows beyond the file: a draft, unmasked numbers, earlier texts."""

    draft: Draft = field(default_factory=Draft)
    numbers: dict[int, str] = field(default_factory=dict)
    before: int | None = None
    calling: int | None = None
    """Contact whose number was asked for to call it."""


NOTHING_MORE = Shown()


def household_page(
    request: Request, service: Service, who: SignedIn, household_id: int, shown: Shown = NOTHING_MORE
) -> HTMLResponse:
    """The page; that it was looked at stands in the audit before it is shown."""
    with writing(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, household_id)
        note(session, service, who, "look", home.id)
    with reading(service.engine) as session:
        context = _context(session, service, home, shown)
    status = 422 if shown.draft.objection else 200
    return page(request, service, "household.html", who, status, **context)


def _context(session: Session, service: Service, home: Household, shown: Shown) -> dict[str, Any]:
    file = read_file(session, home, shown.before)
    draft = shown.draft
    texts = recent_texts(session, [home.id]).get(home.id, [])
    return {
        "file": file,
        "title": _title(file),
        "open_escalations": sorted(
            (each for each in file.escalations if each.state != "settled"), key=lambda e: (e.urgency, e.opened_at)
        ),
        "said": {each.id: last_said(texts, each.words, each.message_id) for each in file.escalations},
        "settled": [each for each in file.escalations if each.state == "settled"],
        "reachable": [person for person in file.people if can_be_texted(person)],
        "days": _by_day(service, file),
        "visits": _newest_visits(file),
        "cells": cells(file.readings),
        "shown": shown.numbers,
        "draft": draft,
        "draft_segments": segments(draft.text),
        "problem": gettext(OBJECTIONS[draft.objection]) if draft.objection else None,
        "long": draft.objection is Objection.LONG,
        "alphabet": ALPHABET,
        "failed": FAILED,
        "today": service.clock.now().astimezone(service.county.zone(home.area)).date(),
        "understood": understood,
        "delivery": _delivery,
        "agent_name": lambda key: file.agents[key].name if key in file.agents else gettext("someone"),
    }


def _title(file: HouseholdFile) -> str:
    """The address, else the number's last digits: something to recognise it by."""
    if file.household.address:
        return file.household.address
    if file.people:
        return gettext("Household of %(number)s") % {"number": masked(file.people[0].contact)}
    return gettext("Household without a number")


def _by_day(service: Service, file: HouseholdFile) -> list[tuple[dt.date, list[Message]]]:
    """Newest first: the last words stand right under the answer."""
    zone = service.county.zone(file.household.area)
    newest_first = reversed(file.messages)
    return [(day, list(of_day)) for day, of_day in groupby(newest_first, lambda m: m.at.astimezone(zone).date())]


def _newest_visits(file: HouseholdFile) -> list[Check]:
    with_readings = {reading.check_id for reading in file.readings}
    return [visit for visit in reversed(file.visits) if visit.id in with_readings][:VISITS]


def _delivery(message: Message) -> str:
    return words.word(words.DELIVERIES, message.status or "replied")
