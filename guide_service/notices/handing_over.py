"""A started notice at work: first every phone gets its row, then rows are handed to the outbox a few at a time.

Only as many texts stand in the outbox as the number sends in some seconds. So a notice to thousands never fills the
table of what falls due, opt-outs are looked at when it is a phone's turn, and stopping takes back all but the few that
are being sent. One run of the job is one short transaction that also puts the next run in line: a worker that dies
leaves either all of it or nothing, and the next one goes on from there.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import func, or_
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, col, select

from guide_service.calls.placing import BY_CALL
from guide_service.calls.script import unspeakable
from guide_service.county_rules import Hours
from guide_service.database import reading
from guide_service.followup.quiet_hours import next_allowed
from guide_service.followup.work import Work
from guide_service.notices.choice import NO_TEXT, TO, Choice, chosen
from guide_service.notices.words import spoken
from guide_service.outbox import SEND_MANY, UNSENT, start_text
from guide_service.records import Contact, Household, Job, Membership, Message, Notice, NoticeRecipient
from guide_service.records.base import new_id
from guide_service.wiring import Service
from guide_service.wording.recorded import recorded_parts
from guide_service.wording.render import render
from guide_service.wording.segments import segments
from guide_service.wording.sms import SmsText
from guide_service.wording.voice import piece

KIND = "notice"
ROWS_AT_ONCE = 500
"""Rows made in one transaction (about 20 ms on SQLite), so that a turn never waits long for the one write lock."""
TEXTS_AT_ONCE = 40
"""Texts handed over in one transaction: each is a few statements."""
IN_LINE = dt.timedelta(seconds=10)
"""So much sending stands in the outbox: enough to keep the number busy, little enough to stop at once. Our choice."""
EVERY = dt.timedelta(seconds=2)
TAIL = dt.timedelta(seconds=5)
"""After the last was handed over: how often it is looked whether the carrier has them all. Our choice."""

_recipients: Any = NoticeRecipient.__table__  # type: ignore[attr-defined]
_LIST = {
    "sqlite": sqlite.insert(_recipients).on_conflict_do_nothing(),
    "postgresql": postgresql.insert(_recipients).on_conflict_do_nothing(),
}


def job_key(notice_id: int) -> str:
    return f"notice:{notice_id}"


def notice_due(work: Work) -> None:
    with reading(work.service.engine) as session:
        notice = session.get(Notice, work.number("notice"))
    if notice is None or notice.state != "sending":
        return
    if notice.listed_at is None:
        _list_more(work, notice)
    else:
        _hand_over(work, notice.id)


def _list_more(work: Work, notice: Notice) -> None:
    """The next phones of the choice; looked up before the lock is taken."""
    service = work.service
    with reading(service.engine) as session:
        found = _next_phones(session, service, notice)
    rows = [_recipient(service, notice.id, *each) for each in found]
    with work.settling() as session:
        connection, now = session.connection(), service.clock.now()
        if rows:
            connection.execute(_LIST[connection.dialect.name], rows)
        stored = session.get_one(Notice, notice.id)
        stored.listed_to = rows[-1]["contact_id"] if rows else stored.listed_to
        stored.listed_at = now if len(rows) < ROWS_AT_ONCE else None
        work.again(session, now)


def _next_phones(session: Session, service: Service, notice: Notice) -> list[Any]:
    people = chosen(Choice.of(notice.choice), service.county, notice.bodies)
    people = people.where(
        Contact.id > notice.listed_to,
        col(Contact.opted_out_at).is_(None),
        col(Contact.consented_at).is_not(None),
        col(Contact.undeliverable).is_(None),
    )
    page = people.order_by(Contact.id).limit(ROWS_AT_ONCE).subquery()
    columns = (page.c.contact_id, page.c.household_id, page.c.language, page.c.standing, Household.area)
    query = select(*columns).join(Household, col(Household.id) == page.c.household_id)  # type: ignore[call-overload]
    return list(session.execute(query.order_by(page.c.contact_id)))


def _recipient(
    service: Service, notice_id: int, contact_id: int, household_id: int, language: str, standing: str, area: str | None
) -> dict[str, Any]:
    return {
        "id": new_id(),
        "notice_id": notice_id,
        "contact_id": contact_id,
        "household_id": household_id,
        "language": language,
        "zone": service.county.zone(area).key,
        "state": {TO: "queued", NO_TEXT: "no_text"}[standing],
    }


def _hand_over(work: Work, notice_id: int) -> None:
    service, now = work.service, work.service.clock.now()
    with work.settling() as session:
        notice = session.get_one(Notice, notice_id)
        quiet = quiet_zones(_zones(session, notice_id), service.county.hours, now)
        room = _room(session, service, notice, now)
        due = _next_rows(session, notice_id, quiet, min(room, TEXTS_AT_ONCE))
        for recipient, contact, still_there in due:
            _hand(session, service, notice, recipient, contact, still_there)
        session.flush()
        left = _zones(session, notice_id)
        if left:
            work.again(session, _next_run(left, quiet, now))
        elif in_outbox := _zones_of_unsent(session, notice_id):
            work.again(session, max(_next_run(in_outbox, quiet, now), now + TAIL))
        else:
            notice.state, notice.ended_at = "done", now


def _next_run(left: Iterable[str], quiet: dict[str, dt.datetime], now: dt.datetime) -> dt.datetime:
    """Soon; or, when everybody left sleeps, as soon as the first may be texted."""
    return now + EVERY if set(left) - set(quiet) else min(quiet[zone] for zone in left)


def quiet_zones(zones: Iterable[str], hours: Hours, now: dt.datetime) -> dict[str, dt.datetime]:
    """Zones in which nobody may be texted now, each with when it may be again."""
    allowed = {zone: next_allowed(now, ZoneInfo(zone), hours) for zone in zones}
    return {zone: at for zone, at in allowed.items() if at > now}


def _zones(session: Session, notice_id: int) -> list[str]:
    queued = (NoticeRecipient.notice_id == notice_id, NoticeRecipient.state == "queued")
    return list(session.exec(select(NoticeRecipient.zone).where(*queued).distinct()))


def _zones_of_unsent(session: Session, notice_id: int) -> list[str]:
    """Where texts of it stand in the outbox: until the carrier has the last of them, the notice can be stopped."""
    handed = (NoticeRecipient.notice_id == notice_id, NoticeRecipient.state == "handed")
    query = select(NoticeRecipient.zone).join(Message, col(Message.id) == col(NoticeRecipient.message_id))
    return list(session.exec(query.where(*handed, col(Message.status).in_(UNSENT)).distinct()))


def _room(session: Session, service: Service, notice: Notice, now: dt.datetime) -> int:
    """How many texts more may stand in the outbox. Those put off to another hour do not count."""
    soon = or_(col(Job.state) == "running", (col(Job.state) == "ready") & (col(Job.run_at) <= now + IN_LINE))
    waiting = session.exec(select(func.count()).select_from(Job).where(soon, Job.kind == SEND_MANY)).one()
    longest = max((segments(body).count for body in notice.bodies.values()), default=1)
    sent_meanwhile = service.county.hours.segments_per_second * IN_LINE.total_seconds() / longest
    return max(0, max(2, int(sent_meanwhile)) - waiting)


def _next_rows(session: Session, notice_id: int, quiet: dict[str, dt.datetime], most: int) -> list[Any]:
    mine = (NoticeRecipient.notice_id == notice_id, NoticeRecipient.state == "queued")
    awake = col(NoticeRecipient.zone).not_in(list(quiet))
    there = (
        select(Membership.id)
        .where(
            Membership.contact_id == NoticeRecipient.contact_id,
            Membership.household_id == NoticeRecipient.household_id,
            col(Membership.ended_at).is_(None),
        )
        .exists()
    )
    rows = select(NoticeRecipient, Contact, there).outerjoin(Contact, col(Contact.id) == NoticeRecipient.contact_id)
    rows = rows.where(*mine, awake).order_by(col(NoticeRecipient.id)).limit(most)
    return list(session.exec(rows.with_for_update(of=NoticeRecipient)))


def _hand(
    session: Session,
    service: Service,
    notice: Notice,
    recipient: NoticeRecipient,
    contact: Contact | None,
    still_there: bool,
) -> None:
    session.add(recipient)
    if contact is not None and contact.opted_out_at is not None:
        recipient.state = "opted_out"
        return
    if contact is None or not still_there or contact.consented_at is None or contact.undeliverable:
        recipient.state = "left"
        return
    by_call = contact.channel == BY_CALL
    if by_call and cannot_be_said(service, notice, recipient.language):
        recipient.state = "no_voice"
        return
    (sent,) = start_text(
        session, service, contact=contact, household_id=recipient.household_id, origin="many", send_at=None, key=None,
        texts=[_words(service, notice, recipient.language) if by_call else _text(notice, recipient.language)],
    )  # fmt: skip
    recipient.state, recipient.message_id = "handed", sent.id


def cannot_be_said(service: Service, notice: Notice, language: str) -> bool:
    """Nobody has recorded an agent's own words, and some languages are spoken by recordings alone."""
    said = piece(spoken(service, notice.phrase, notice.own, language), language, service.catalogues)
    return unspeakable(service, (said,), recorded_parts(service.locales, language)) is not None


def _words(service: Service, notice: Notice, language: str) -> SmsText:
    """What a call tells, as the conversation shows it. It has no segments; in the line of texts it stands as one."""
    said = spoken(service, notice.phrase, notice.own, language)
    return SmsText(render(said, language, service.catalogues, spoken=True), "UCS-2", 1, (said.id,))


def _text(notice: Notice, language: str) -> SmsText:
    body = notice.bodies[language]
    counted = segments(body)
    ids = ("many.frame",) if notice.own.get(language) or not notice.phrase else ("many.frame", notice.phrase)
    return SmsText(body, counted.encoding, counted.count, ids)
