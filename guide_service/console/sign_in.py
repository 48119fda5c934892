"""Who is signed in. All times here are real time: the demo's clock moves no session and no lock.

A try is counted before the password is looked at, in a transaction of its own, so that many at once gain nothing. From
the third wrong one each costs a wait that doubles up to a quarter of an hour (common practice).
"""

from __future__ import annotations

import datetime as dt
import secrets
from dataclasses import dataclass
from enum import StrEnum

from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service.console.passwords import TooManyAtOnce, matches
from guide_service.database import reading, writing
from guide_service.records import Agent, AgentSession, Audit
from guide_service.wiring import Service

SESSION_HOURS = 12
FREE_TRIES = 3
FIRST_WAIT_SECONDS = 5
LONGEST_WAIT_SECONDS = 900


class Refusal(StrEnum):
    WRONG = "wrong"
    WAIT = "wait"


@dataclass(frozen=True, slots=True)
class SignedIn:
    """The agent of this request and the token that its forms carry."""

    agent: Agent
    csrf: str
    token_key: str


def real_now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


def sign_in(service: Service, login: str, password: str) -> str | Refusal:
    """The cookie of a new session, or why there is none."""
    agent = _count_try(service, login)
    if isinstance(agent, Refusal):
        return agent
    try:
        right = matches(password, agent.password_hash if agent else None)
    except TooManyAtOnce:
        return Refusal.WAIT
    if not right or agent is None:
        return Refusal.WRONG
    with writing(service.engine) as session:
        session.add(Audit(at=service.clock.now(), agent_id=agent.id, action="sign_in"))
        session.execute(update(Agent).where(col(Agent.id) == agent.id).values(failed_tries=0, locked_until=None))
        return open_session(session, service, agent)


def open_session(session: Session, service: Service, agent: Agent) -> str:
    """The cookie of a new session; only its keyed hash is stored."""
    token, now = secrets.token_urlsafe(32), real_now()
    session.add(
        AgentSession(
            token_key=service.sealer.token_key(token),
            agent_id=agent.id,
            csrf=secrets.token_urlsafe(24),
            created_at=now,
            expires_at=now + dt.timedelta(hours=SESSION_HOURS),
        )
    )
    return token


def signed_in(service: Service, token: str | None) -> SignedIn | None:
    """Who holds this cookie, if it still counts."""
    if not token:
        return None
    key = service.sealer.token_key(token)
    with reading(service.engine) as session:
        row = session.get(AgentSession, key)
        agent = session.get(Agent, row.agent_id) if row else None
    if row is None or agent is None or row.revoked_at or row.expires_at <= real_now() or not may_enter(agent):
        return None
    return SignedIn(agent, row.csrf, key)


def session_stands(service: Service, token_key: str) -> bool:
    """Whether a session that was let in still counts."""
    with reading(service.engine) as session:
        row = session.get(AgentSession, token_key)
        agent = session.get(Agent, row.agent_id) if row else None
    return bool(row and agent and not row.revoked_at and row.expires_at > real_now() and may_enter(agent))


def sign_out(service: Service, token_key: str) -> None:
    with writing(service.engine) as session:
        row = session.get(AgentSession, token_key)
        if row:
            row.revoked_at = real_now()
            session.add(Audit(at=service.clock.now(), agent_id=row.agent_id, action="sign_out"))


def revoke_all(session: Session, agent_id: int) -> None:
    session.execute(
        update(AgentSession)
        .where(col(AgentSession.agent_id) == agent_id, col(AgentSession.revoked_at).is_(None))
        .values(revoked_at=real_now())
    )


def may_enter(agent: Agent) -> bool:
    return agent.disabled_at is None and (agent.expires_at is None or agent.expires_at > real_now())


def wait_after(failed_tries: int) -> dt.timedelta:
    """How long nobody is let in after this many wrong tries."""
    over = failed_tries - FREE_TRIES
    if over < 0:
        return dt.timedelta(0)
    return dt.timedelta(seconds=min(LONGEST_WAIT_SECONDS, FIRST_WAIT_SECONDS * 2 ** min(over, 20)))


def _count_try(service: Service, login: str) -> Agent | Refusal | None:
    with writing(service.engine) as session:
        agent = session.exec(select(Agent).where(Agent.login == login.strip().lower()).with_for_update()).first()
        if agent is None or not may_enter(agent):
            return None
        if agent.locked_until and agent.locked_until > real_now():
            return Refusal.WAIT
        agent.failed_tries += 1
        agent.locked_until = real_now() + wait_after(agent.failed_tries)
        return agent
