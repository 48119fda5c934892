"""What the page of one household shows: the file, put in the order in which it is read."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from functools import partial
from itertools import groupby
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from sqlmodel import Session

from guide_service.carrier.delivery import FAILED
from guide_service.console import times, words
from guide_service.console.answered import option_chosen
from guide_service.console.answering import Objection, agents_text
from guide_service.console.audit import note
from guide_service.console.catalogue import N_, gettext
from guide_service.console.household_file import VISITS, HouseholdFile, cells, household_in_scope, read_file
from guide_service.console.kept_media import kept_address
from guide_service.console.live import household_mark
from guide_service.console.pages import masked, page
from guide_service.console.phones import NO_PHONE, NewPhone
from guide_service.console.phrases import in_language, phrases, reader, signature_of
from guide_service.console.recent import InWords, last_said, recent_texts
from guide_service.console.sign_in import SignedIn
from guide_service.console.translated import in_agents_words, translated
from guide_service.console.understood import understood
from guide_service.console.visits import CHECK_DAYS
from guide_service.database import reading, writing
from guide_service.dialogue.effects import EscalationReason
from guide_service.lending.loans import LONGEST_LOAN_DAYS, USUAL_DAYS
from guide_service.records import Check, Household, Message, PlaceRow, Verdict
from guide_service.turning.people import can_be_texted
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

MOST_TO_CORRECT = 60
"""Readings that can be chosen to be put right, the newest first."""
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
    silence: bool = False
    """Whether the guide was to keep silent afterwards."""


@dataclass(frozen=True, slots=True)
class Visit:
    """Readings of a visit that were not stored, as they were sent."""

    words: str = ""
    day: str = ""
    right: bool | None = None
    """As in ``visits.add_readings``; nothing is said beforehand."""
    unclear: tuple[str, ...] = ()
    """What was not understood with certainty."""


@dataclass(frozen=True, slots=True)
class AskedPhone:
    """A phone that was not added, as it was sent, and why not."""

    phone: NewPhone = NO_PHONE
    refused: str = ""


@dataclass(frozen=True, slots=True)
class AskedLoan:
    """A meter that was not lent, as it was sent, and why not."""

    meter: str = ""
    place: str = ""
    due_on: str = ""
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Shown:
    """What one request shows beyond the file: a draft, unmasked numbers, earlier texts."""

    draft: Draft = field(default_factory=Draft)
    numbers: dict[int, str] = field(default_factory=dict)
    before: int | None = None
    calling: int | None = None
    """Contact whose number was asked for to call it."""
    visit: Visit = field(default_factory=Visit)
    phone: AskedPhone = field(default_factory=AskedPhone)
    loan: AskedLoan = field(default_factory=AskedLoan)

    doubles: tuple[tuple[int, str], ...] = ()
    looked: bool = False
    """Whether files of the same house were looked for."""

    @property
    def refused(self) -> bool:
        """Whether a form came back."""
        return bool(self.draft.objection or self.visit.unclear or self.phone.refused or self.loan.refused)


NOTHING_MORE = Shown()


def household_page(
    request: Request, service: Service, who: SignedIn, household_id: int, shown: Shown = NOTHING_MORE
) -> HTMLResponse:
    """The page; that it was looked at stands in the audit before it is shown."""
    with writing(service.engine) as session:
        home = household_in_scope(session, service.county, who.agent, household_id)
        note(session, service, who, "look", home.id)
    with reading(service.engine) as session:
        mark = household_mark(session, home.id)  # before the file: a change between the two is heard of
        file = read_file(session, home, shown.before)
        context = _talk(service, file) | _house(session, service, file) | _forms(service, who, file, shown)
    status = 422 if shown.refused else 200
    return page(
        request,
        service,
        "household.html",
        who,
        status,
        title=_title(file),
        mark=mark,
        **context,
    )


def talk_part(request: Request, service: Service, who: SignedIn, home: Household) -> HTMLResponse:
    """The conversation alone, for a page that is open."""
    with reading(service.engine) as session:
        file = read_file(session, home)
    return page(request, service, "_talk.html", who, title=_title(file), **_talk(service, file))


def joined_to(service: Service, who: SignedIn, household_id: int) -> int | None:
    """The household that this one was merged into, if the agent may see it."""
    with reading(service.engine) as session:
        found = session.get(Household, household_id)
        if found is None or found.merged_into is None:
            return None
        return household_in_scope(session, service.county, who.agent, found.merged_into).id


def _talk(service: Service, file: HouseholdFile) -> dict[str, Any]:
    newest = next((each for each in reversed(file.messages) if each.direction == "in"), None)
    return {
        "file": file,
        "days": _by_day(service, file),
        "newest_text": newest.id if newest else "",
        "failed": _failed,
        "understood": understood,
        "answered": partial(_answered, in_agents_words(service), file.messages),
        "reader": reader(service),
        "translated": lambda message: translated(message, reader(service), service.catalogues),
        "delivery": _delivery,
        "kept_address": partial(kept_address, service),
        "agent_name": lambda key: file.agents[key].name if key in file.agents else gettext("someone"),
    }


def _house(session: Session, service: Service, file: HouseholdFile) -> dict[str, Any]:
    home = file.household
    texts = recent_texts(session, [home.id]).get(home.id, [])
    in_words = in_agents_words(service)
    today = service.clock.now().astimezone(service.county.zone(home.area)).date()
    return {
        "open_escalations": sorted(
            (each for each in file.escalations if each.state != "settled"), key=lambda e: (e.urgency, e.opened_at)
        ),
        "said": {
            each.id: last_said(texts, each.words, each.message_id, each.reason, in_words) for each in file.escalations
        },
        "settled": [each for each in file.escalations if each.state == "settled"],
        "at_risk": home.facts.get("at_risk") == "yes" or any(e.detail.get("risk") is True for e in file.escalations),
        "visits_of": partial(_newest_visits, file),
        "cells": cells(file.readings),
        "standing": [each for each in reversed(file.readings) if each.superseded_at is None][:MOST_TO_CORRECT],
        "today": today,
        "loan_days": [today + dt.timedelta(days=1), today + dt.timedelta(days=LONGEST_LOAN_DAYS)],
        "loan_usual": today + dt.timedelta(days=USUAL_DAYS),
        "check_days": [today + dt.timedelta(days=days) for days in CHECK_DAYS],
        "forecast": _forecast,
    }


def _forms(service: Service, who: SignedIn, file: HouseholdFile, shown: Shown) -> dict[str, Any]:
    draft, signature = shown.draft, signature_of(service.county, who.agent.name)
    return {
        "reachable": [person for person in file.people if can_be_texted(person)],
        "shown": shown,
        "draft": draft,
        "draft_segments": segments(agents_text(draft.text, signature).body),
        "signature": signature,
        "problem": gettext(OBJECTIONS[draft.objection]) if draft.objection else None,
        "long": draft.objection is Objection.LONG,
        "alphabet": ALPHABET,
        "phrases": phrases(service),
        "in_language": partial(in_language, service),
        "languages": service.county.languages,
        "reasons": [str(each) for each in EscalationReason],
    }


def _answered(in_words: InWords, messages: tuple[Message, ...], message: Message) -> str:
    """What a bare number stood for, in the words of the text that it answered, as the agent reads them."""
    before = [m for m in messages if m.id < message.id and m.direction == "out" and m.contact_id == message.contact_id]
    if message.direction != "in" or not before:
        return ""
    return option_chosen(message.body, in_words(before[-1])) or ""


def _forecast(verdict: Verdict | None) -> str:
    """When the place is expected below the limit: a range, never a day."""
    told = verdict.forecast if verdict else None
    if not told:
        return ""
    if told.get("earliest") and told.get("latest"):
        days = (times.short_day(dt.date.fromisoformat(told[name])) for name in ("earliest", "latest"))
        return " \N{EN DASH} ".join(days)
    return words.word(words.FORECASTS, told.get("kind"))


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


def _newest_visits(file: HouseholdFile, places: list[PlaceRow]) -> list[Check]:
    """Those on which one of these places was read."""
    labels = {place.label for place in places}
    with_readings = {reading.check_id for reading in file.readings if reading.place in labels}
    return [visit for visit in reversed(file.visits) if visit.id in with_readings][:VISITS]


def _failed(message: Message) -> bool:
    """It will not arrive, and that was not our own doing."""
    return message.status in FAILED and not (message.status == "canceled" and message.error_code is None)


def _delivery(message: Message) -> str:
    return words.word(words.DELIVERIES, message.status or "replied")
