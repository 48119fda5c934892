"""What agents decide about a notice: write, change, approve, start, stop, drop. Each refusal has its reason.

All of them lock the notice first, and give the digest of what the agent saw: nobody approves or starts words that a
colleague has changed meanwhile.
"""

from __future__ import annotations

from enum import StrEnum

from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service import jobs
from guide_service.notices.choice import Choice
from guide_service.notices.handing_over import KIND, job_key
from guide_service.notices.preview import Preview, approved, digest
from guide_service.outbox import take_back
from guide_service.records import Message, Notice, NoticeRecipient
from guide_service.wiring import Service


class Refused(StrEnum):
    GONE = "gone"
    """It is no draft any more, or no longer being sent."""
    CHANGED = "changed"
    OWN = "own"
    """Who wrote or changed it does not approve it."""
    NOBODY = "nobody"
    TOO_LONG = "too_long"
    NOT_APPROVED = "not_approved"


def write(
    session: Session, service: Service, agent_id: int, office: str | None, title: str, choice: Choice,
    phrase: str | None, own: dict[str, str],
) -> Notice:  # fmt: skip
    notice = Notice(
        title=title, office=office, choice=choice.as_json(), phrase=phrase, own=own, authors=[str(agent_id)],
        changed_at=service.clock.now(),
    )  # fmt: skip
    session.add(notice)
    session.flush()
    return notice


def change(
    session: Session, service: Service, agent_id: int, notice: Notice, title: str, choice: Choice,
    phrase: str | None, own: dict[str, str],
) -> Refused | None:  # fmt: skip
    """A change of the words or of the choice voids an approval; another title does not."""
    if notice.state != "draft":
        return Refused.GONE
    before = digest(service, notice)
    notice.title, notice.choice, notice.phrase, notice.own = title, choice.as_json(), phrase, own
    if digest(service, notice) != before:
        notice.changed_at = service.clock.now()
        notice.authors = list(dict.fromkeys([*notice.authors, str(agent_id)]))
        notice.approved_by = notice.approved_at = notice.approved_digest = None
        notice.approved_people = 0
    session.add(notice)
    return None


def approve(
    session: Session, service: Service, agent_id: int, notice: Notice, seen: str, now_seen: Preview
) -> Refused | None:
    if notice.state != "draft":
        return Refused.GONE
    if str(agent_id) in notice.authors:
        return Refused.OWN
    if not seen == now_seen.digest == digest(service, notice):
        return Refused.CHANGED
    notice.approved_by, notice.approved_at = agent_id, service.clock.now()
    notice.approved_digest, notice.approved_people = now_seen.digest, now_seen.count
    session.add(notice)
    return None


def start(
    session: Session, service: Service, agent_id: int, notice: Notice, seen: str, now_seen: Preview
) -> Refused | None:
    """The words are fixed and the worker begins."""
    refused = _not_ready(service, notice, seen, now_seen)
    if refused:
        return refused
    now = service.clock.now()
    notice.state, notice.started_by, notice.started_at = "sending", agent_id, now
    notice.bodies = {each.language: each.text.body for each in now_seen.versions}
    session.add(notice)
    jobs.enqueue(session, KIND, key=job_key(notice.id), payload={"notice": notice.id}, run_at=now, now=now)
    return None


def _not_ready(service: Service, notice: Notice, seen: str, now_seen: Preview) -> Refused | None:
    if notice.state != "draft":
        return Refused.GONE
    if not seen == now_seen.digest == digest(service, notice):
        return Refused.CHANGED
    if now_seen.too_long:
        return Refused.TOO_LONG
    if now_seen.count == 0:
        return Refused.NOBODY
    return Refused.NOT_APPROVED if now_seen.needs_second and not approved(notice, now_seen) else None


def stop(session: Session, service: Service, agent_id: int, notice: Notice) -> Refused | None:
    """What the carrier does not have yet stays unsent.

    The job first: whoever hands over has finished, or will not begin. A text that a worker has in hand is stopped by
    that worker, which looks at the notice once more before it asks the carrier (``followup.send_text``). A notice that
    is done can be stopped as long as a text of it waits for a second try.
    """
    jobs.cancel(session, job_key(notice.id))
    session.refresh(notice)
    mine = col(NoticeRecipient.notice_id) == notice.id
    in_line = select(Message.id).join(NoticeRecipient, col(NoticeRecipient.message_id) == col(Message.id))
    waiting = session.exec(in_line.where(mine, Message.status == "waiting")).all()
    if notice.state != "sending" and not (notice.state == "done" and waiting):
        return Refused.GONE
    notice.state, notice.ended_by, notice.ended_at = "stopped", agent_id, service.clock.now()
    session.add(notice)
    take_back(session, waiting)
    taken_back = select(Message.id).where(
        col(Message.id) == col(NoticeRecipient.message_id), Message.status == "canceled"
    )
    unsent = (col(NoticeRecipient.state) == "queued") | (col(NoticeRecipient.state) == "handed") & taken_back.exists()
    session.connection().execute(update(NoticeRecipient).where(mine, unsent).values(state="stopped"))
    return None


def drop(session: Session, service: Service, agent_id: int, notice: Notice) -> Refused | None:
    """A draft that is not wanted any more."""
    if notice.state != "draft":
        return Refused.GONE
    notice.state, notice.ended_by, notice.ended_at = "dropped", agent_id, service.clock.now()
    session.add(notice)
    return None
