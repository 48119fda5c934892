"""Forgets what the county's retention table says, and seals old numbers anew after a change of the secret.

Bodies of inbound texts are blanked first, links of pictures go earlier; after the last term a row of the carrier is
replaced by a tombstone, so that a replayed webhook still recreates nothing. Readings and verdicts stay: they are the
file.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from sqlalchemy import ColumnElement, delete, null, update
from sqlmodel import Session, col, select

from guide_service import jobs
from guide_service.database import writing
from guide_service.deletion.carrying_out import delete_kept_readings
from guide_service.followup.burying import bury_messages
from guide_service.followup.erasing import erase_media
from guide_service.followup.quiet_hours import reminder_time
from guide_service.followup.work import Work
from guide_service.records import (
    Agent,
    AgentSession,
    Audit,
    Call,
    ConsentEvent,
    Contact,
    Escalation,
    Household,
    LogTries,
    LogVisit,
    Message,
    Notice,
    NoticeRecipient,
    RetentionStep,
    WorkerSeen,
)
from guide_service.sealing import Sealer
from guide_service.wiring import Service

KIND = "retention"
BATCH = 500
"""Rows of one transaction, so that a turn never waits long."""
SETTLED_JOBS_DAYS = 30
"""Settled jobs say what was sent when to whoever looks into a complaint. Our choice."""
ENDED_SESSIONS_DAYS = 30
ENDED_CALLS_DAYS = 30
"""Rows of calls: what was said in them stands in the conversation, and in the row only as long as the call lasts."""
REFUSED_SIGN_INS_DAYS = 180
"""Half a year in which somebody can look into them. Our choice: whoever knocks must not fill the audit for ever."""
LOG_TRIES_DAYS = 2
"""Wrong tries at drying logs by address; they are forgotten after one."""


Step = Callable[[Session, Service], int]


def retention(work: Work) -> None:
    """Once a day; each step in slices of its own transactions, and again from the start if one fails."""
    service = work.service
    for name, step in STEPS.items():
        removed = 0
        while (rows := _slice(service, step)) >= AT_A_TIME.get(name, BATCH):
            removed += rows
            if work.pause(0.05):
                _applied(service, name, removed)
                _later(work)
                return
            work.go_on()
        _applied(service, name, removed + rows)
    with work.settling() as session:
        tomorrow = service.clock.now().astimezone(service.county.zone(None)).date() + dt.timedelta(days=1)
        early = reminder_time(tomorrow, service.county.zone(None), service.county.hours) - dt.timedelta(hours=6)
        work.again(session, early)


def _later(work: Work) -> None:
    """The worker is told to stop: another one goes on, and nobody waits for the end of it."""
    with work.settling() as session:
        work.again(session, work.service.clock.now())


def _applied(service: Service, name: str, rows: int) -> None:
    """When it was applied last and how much it removed: for the page that says so."""
    now = service.clock.now()
    with writing(service.engine) as session:
        done = session.get(RetentionStep, name) or RetentionStep(name=name, last_at=now, since=now)
        done.last_at, done.last_removed, done.removed = now, rows, done.removed + rows
        session.add(done)


def seal_all_anew(service: Service) -> None:
    """At the start of a worker, so that a change of the secret is soon behind us."""
    for step in SEALED:
        while _slice(service, step) == BATCH:
            continue


def _slice(service: Service, step: Step) -> int:
    with writing(service.engine) as session:
        return step(session, service)


def forget_picture_links(session: Session, service: Service) -> int:
    """Pictures, and messages that callers left; the carrier is told to forget them too."""
    old = col(Message.at) < _before(service, service.county.retention.picture_link_days)
    query = select(Message.id, Message.media).where(old, col(Message.media).is_not(None)).limit(BATCH)
    found = session.exec(query).all()
    erase_media(session, service, [media for _id, media in found])
    return _blank(session, col(Message.id).in_([row_id for row_id, _media in found]), media=null())


def forget_bodies(session: Session, service: Service) -> int:
    old = col(Message.at) < _before(service, service.county.retention.inbound_body_days)
    kept = (col(Message.direction) == "in") & col(Message.body).is_not(None)
    return _blank(session, old, kept, body=None, understood=null())


def forget_words(session: Session, service: Service) -> int:
    """The last words of a person stand beside an escalation too."""
    old = Escalation.opened_at < _before(service, service.county.retention.inbound_body_days)
    ids = select(Escalation.id).where(old, Escalation.state == "settled", Escalation.words != "").limit(BATCH)
    return _count(session, update(Escalation).where(col(Escalation.id).in_(ids)).values(words=""))


def replace_by_tombstones(session: Session, service: Service) -> int:
    old = Message.at < _before(service, service.county.retention.carrier_row_days)
    rows = session.exec(select(Message).where(old).limit(BATCH)).all()
    return bury_messages(session, service, rows)


def forget_recipients(session: Session, service: Service) -> int:
    """Who a notice went to is known as long as its texts are."""
    old = col(Notice.ended_at) < _before(service, service.county.retention.carrier_row_days)
    ended = select(Notice.id).where(old).scalar_subquery()
    ids = select(NoticeRecipient.id).where(col(NoticeRecipient.notice_id).in_(ended)).limit(BATCH)
    return _count(session, delete(NoticeRecipient).where(col(NoticeRecipient.id).in_(ids)))


def seal_anew(session: Session, service: Service) -> int:
    """Numbers of an older secret under the one in use; consent follows its number."""
    sealer = service.sealer
    rows = session.exec(select(Contact).where(col(Contact.key_id).in_(sealer.old_key_ids)).limit(BATCH)).all()
    for contact in rows:
        _seal_anew(session, sealer, contact)
    return len(rows)


def _seal_anew(session: Session, sealer: Sealer, contact: Contact) -> None:
    number, old_key = sealer.open(contact.phone_sealed, contact.key_id), contact.phone_key
    contact.phone_sealed, contact.key_id = sealer.seal(number)
    contact.phone_key = sealer.phone_key(number)
    session.connection().execute(
        update(ConsentEvent).where(col(ConsentEvent.phone_key) == old_key).values(phone_key=contact.phone_key)
    )


def seal_codes_anew(session: Session, service: Service) -> int:
    """Household codes likewise; the one in use stays as it was told."""
    sealer = service.sealer
    rows = session.exec(select(Household).where(col(Household.code_key_id).in_(sealer.old_key_ids)).limit(BATCH)).all()
    for home in rows:
        code = sealer.open(home.code_sealed or b"", home.code_key_id or "")
        home.code_sealed, home.code_key_id = sealer.seal(code)
        home.code_key = sealer.code_keys(code)[0]
    return len(rows)


def seal_factors_anew(session: Session, service: Service) -> int:
    """Secrets of authenticator apps likewise. (Recovery codes are only hashed: they end with the old secret.)"""
    sealer = service.sealer
    rows = session.exec(select(Agent).where(col(Agent.factor_key_id).in_(sealer.old_key_ids)).limit(BATCH)).all()
    for agent in rows:
        secret = sealer.open_factor(agent.factor_sealed or b"", agent.factor_key_id or "")
        agent.factor_sealed, agent.factor_key_id = sealer.seal_factor(secret)
    return len(rows)


SEALED = (seal_anew, seal_codes_anew, seal_factors_anew)


def forget_the_rest(session: Session, service: Service) -> int:
    """Settled jobs, ended sign-ins and refused ones, workers that are long gone. Leases, sign-ins and workers go by
    real time."""
    real_now = dt.datetime.now(dt.UTC)
    ended = col(AgentSession.expires_at) < real_now - dt.timedelta(days=ENDED_SESSIONS_DAYS)
    refused = (col(Audit.action) == "sign_in_refused", col(Audit.at) < _before(service, REFUSED_SIGN_INS_DAYS))
    removed = jobs.forget_settled(session, _before(service, SETTLED_JOBS_DAYS))
    removed += _count(session, delete(AgentSession).where(ended))
    removed += _count(session, delete(Audit).where(*refused))
    removed += _count(session, delete(LogVisit).where(col(LogVisit.ends_at) < real_now))
    tried = col(LogTries.last_at) < real_now - dt.timedelta(days=LOG_TRIES_DAYS)
    removed += _count(session, delete(LogTries).where(tried))
    called = col(Call.started_at) < _before(service, ENDED_CALLS_DAYS)
    removed += _count(session, delete(Call).where(called))
    removed += _count(session, delete(WorkerSeen).where(col(WorkerSeen.seen_at) < real_now - dt.timedelta(days=1)))
    return removed


STEPS: dict[str, Step] = {
    "picture_links": forget_picture_links,
    "bodies": forget_bodies,
    "words": forget_words,
    "texts": replace_by_tombstones,
    "recipients": forget_recipients,
    "kept_readings": delete_kept_readings,
    "numbers_sealed_anew": seal_anew,
    "codes_sealed_anew": seal_codes_anew,
    "factors_sealed_anew": seal_factors_anew,
    "the_rest": forget_the_rest,
}
AT_A_TIME = {"kept_readings": 1}
"""Steps that do less than a batch in one transaction: they go on until nothing is left."""


def _blank(session: Session, *which: ColumnElement[bool], **values: object) -> int:
    ids = select(Message.id).where(*which).limit(BATCH)
    return _count(session, update(Message).where(col(Message.id).in_(ids)).values(**values))


def _count(session: Session, statement: Any) -> int:
    return int(session.connection().execute(statement).rowcount)


def _before(service: Service, days: int) -> dt.datetime:
    return service.clock.now() - dt.timedelta(days=days)
