"""Who is signed in. All times here are real time: the demo's clock moves no session and no lock.

First the password, then, where one is set up, a code of the second factor. A try is counted before the password or the
code is looked at, in a transaction of its own, so that many at once gain nothing. From the third wrong one each costs a
wait that doubles up to a quarter of an hour (common practice); wrong passwords and wrong codes count together.
"""

from __future__ import annotations

import datetime as dt
import secrets
from dataclasses import dataclass
from enum import StrEnum

from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service.console import second_factor
from guide_service.console.passwords import TooManyAtOnce, matches
from guide_service.database import reading, writing
from guide_service.records import Agent, AgentSession, Audit
from guide_service.wiring import Service

SESSION_HOURS = 12
"""The longest time between two sign-ins (NIST SP 800-63B, 4.2.3)."""
IDLE_HOURS = 2
"""A session in which nothing is asked for ends earlier. Ours: a visit with its drive lies between two requests."""
CODE_MINUTES = 10
"""For so long a right password waits for its code. Ours."""
SEEN_EVERY = dt.timedelta(minutes=1)
FREE_TRIES = 3
FIRST_WAIT_SECONDS = 5
LONGEST_WAIT_SECONDS = 900


class Refusal(StrEnum):
    WRONG = "wrong"
    WRONG_CODE = "wrong_code"
    WAIT = "wait"
    TOO_LATE = "too_late"


@dataclass(frozen=True, slots=True)
class Entry:
    """A right password: the cookie of a session, or of one that waits for its code."""

    agent: Agent
    token: str
    waits_for_code: bool = False


@dataclass(frozen=True, slots=True)
class SignedIn:
    """The agent of this request and the token that its forms carry."""

    agent: Agent
    csrf: str
    token_key: str


def real_now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


def sign_in(service: Service, login: str, password: str, device: str = "") -> Entry | Refusal:
    """The first step."""
    agent = checked_password(service, login, password)
    if isinstance(agent, Refusal):
        _refused(service, login, agent, "password")
        return agent
    with writing(service.engine) as session:
        if second_factor.is_set(agent):
            # this try was right, but those before it are forgotten only with the code
            forget_tries(session, agent, agent.failed_tries - 1)
            return Entry(agent, open_session(session, service, agent, device, waits_for_code=True), True)
        forget_tries(session, agent)
        session.add(Audit(at=service.clock.now(), agent_id=agent.id, action="sign_in"))
        return Entry(agent, open_session(session, service, agent, device))


def enter_code(service: Service, token: str | None, code: str) -> Entry | Refusal:
    """The second step: the session that waited ends, and a new one begins under a new cookie."""
    waiting = waiting_for_code(service, token)
    if waiting is None:
        return Refusal.TOO_LATE
    agent = count_try(service, waiting.agent.login)
    if not isinstance(agent, Agent):
        _refused(service, waiting.agent.login, agent or Refusal.TOO_LATE, "code")
        return agent or Refusal.TOO_LATE
    with writing(service.engine) as session:
        factor = second_factor.accept(session, service, agent, code, real_now())
        if factor is None:
            session.add(_refusal(service, waiting.agent, "", Refusal.WRONG_CODE, "code"))
            return Refusal.WRONG_CODE
        forget_tries(session, agent)
        row = session.get_one(AgentSession, waiting.token_key)
        row.revoked_at = real_now()
        session.add(Audit(at=service.clock.now(), agent_id=agent.id, action="sign_in", detail={"code": factor.value}))
        return Entry(agent, open_session(session, service, agent, row.device or ""))


def _refused(service: Service, login: str, refusal: Refusal, step: str) -> None:
    with writing(service.engine) as session:
        known = session.exec(select(Agent).where(Agent.login == login.strip().lower())).first()
        session.add(_refusal(service, known, login, refusal, step))


def _refusal(service: Service, known: Agent | None, login: str, refusal: Refusal, step: str) -> Audit:
    """A row of the audit, never with what was typed as password or code; of an account that is none only how long its
    name was and how it began: somebody may have typed a password there."""
    detail = {"why": str(refusal), "step": step}
    if known is None:
        detail["login"] = f"{login.strip()[:1]}***({min(len(login.strip()), 99)})"
    return Audit(at=service.clock.now(), agent_id=known.id if known else None, action="sign_in_refused", detail=detail)


def checked_password(service: Service, login: str, password: str) -> Agent | Refusal:
    """The agent whose password it is; the try is counted."""
    agent = count_try(service, login)
    if isinstance(agent, Refusal):
        return agent
    try:
        right = matches(password, agent.password_hash if agent else None)
    except TooManyAtOnce:
        return Refusal.WAIT
    return agent if right and agent is not None else Refusal.WRONG


def forget_tries(session: Session, agent: Agent, left: int = 0) -> None:
    session.execute(update(Agent).where(col(Agent.id) == agent.id).values(failed_tries=left, locked_until=None))


def open_session(
    session: Session, service: Service, agent: Agent, device: str = "", *, waits_for_code: bool = False
) -> str:
    """The cookie of a new session; only its keyed hash is stored."""
    token, now = secrets.token_urlsafe(32), real_now()
    lasts = dt.timedelta(minutes=CODE_MINUTES) if waits_for_code else dt.timedelta(hours=SESSION_HOURS)
    session.add(
        AgentSession(
            token_key=service.sealer.token_key(token),
            agent_id=agent.id,
            csrf=secrets.token_urlsafe(24),
            created_at=now,
            seen_at=now,
            expires_at=now + lasts,
            device=device[:60] or None,
            waits_for_code=waits_for_code,
        )
    )
    return token


def signed_in(service: Service, token: str | None) -> SignedIn | None:
    """Who holds this cookie, if it still counts."""
    row, agent = _session_of(service, token)
    if row is None or agent is None or row.waits_for_code:
        return None
    if row.seen_at is None or real_now() - row.seen_at >= SEEN_EVERY:
        _seen(service, row.token_key)
    return SignedIn(agent, row.csrf, row.token_key)


def waiting_for_code(service: Service, token: str | None) -> SignedIn | None:
    """Whose password was right and whose code is still to come. Opens no page but the one that asks for it."""
    row, agent = _session_of(service, token)
    return SignedIn(agent, row.csrf, row.token_key) if row and agent and row.waits_for_code else None


def counts(row: AgentSession) -> bool:
    """Neither ended nor too old nor idle for too long."""
    idle_since = row.seen_at or row.created_at
    now = real_now()
    return row.revoked_at is None and row.expires_at > now and now - idle_since < dt.timedelta(hours=IDLE_HOURS)


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


def count_try(service: Service, login: str) -> Agent | Refusal | None:
    """One try more of this agent; None when nobody of that login may come in."""
    with writing(service.engine) as session:
        agent = session.exec(select(Agent).where(Agent.login == login.strip().lower()).with_for_update()).first()
        if agent is None or not may_enter(agent):
            return None
        if agent.locked_until and agent.locked_until > real_now():
            return Refusal.WAIT
        agent.failed_tries += 1
        agent.locked_until = real_now() + wait_after(agent.failed_tries)
        return agent


def _session_of(service: Service, token: str | None) -> tuple[AgentSession | None, Agent | None]:
    if not token:
        return None, None
    with reading(service.engine) as session:
        row = session.get(AgentSession, service.sealer.token_key(token))
        agent = session.get(Agent, row.agent_id) if row else None
    return (row, agent) if row and agent and counts(row) and may_enter(agent) else (None, None)


def _seen(service: Service, token_key: str) -> None:
    with writing(service.engine) as session:
        session.execute(update(AgentSession).where(col(AgentSession.token_key) == token_key).values(seen_at=real_now()))
