"""What people do with their own account: password, second factor, the places where they are signed in."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import update
from sqlmodel import Session, col, select

from guide_service.console import second_factor
from guide_service.console.catalogue import gettext, languages
from guide_service.console.passwords import hash_password, reason_against
from guide_service.console.sign_in import (
    Refusal,
    SignedIn,
    checked_password,
    count_try,
    counts,
    forget_tries,
    open_session,
    real_now,
    revoke_all,
)
from guide_service.database import writing
from guide_service.records import Agent, AgentSession, Audit
from guide_service.wiring import Service

_SYSTEMS = {"Android": "Android", "iPhone": "iPhone", "iPad": "iPad", "Windows": "Windows", "Mac OS": "Mac",
            "CrOS": "Chromebook", "Linux": "Linux"}  # fmt: skip
_BROWSERS = {"Firefox/": "Firefox", "Edg/": "Edge", "OPR/": "Opera", "Chrome/": "Chrome", "Safari/": "Safari"}


class Unfit(Exception):
    """Why a new password will not do, as one line."""


def device_of(user_agent: str) -> str:
    """Browser and system in two words: enough for the owner to know which of his or her devices it is."""
    browser = next((name for sign, name in _BROWSERS.items() if sign in user_agent), "")
    system = next((name for sign, name in _SYSTEMS.items() if sign in user_agent), "")
    return ", ".join(word for word in (browser, system) if word)


def sessions_of(session: Session, agent_id: int) -> list[AgentSession]:
    """Those that count, the last used first."""
    rows = session.exec(
        select(AgentSession).where(AgentSession.agent_id == agent_id, ~col(AgentSession.waits_for_code))
    )
    return sorted((row for row in rows if counts(row)), key=lambda row: row.seen_at or row.created_at, reverse=True)


def end_session(service: Service, who: SignedIn, token_key: str) -> bool:
    """Whether it was one of this person's own."""
    with writing(service.engine) as session:
        ended = session.connection().execute(
            update(AgentSession)
            .where(
                col(AgentSession.token_key) == token_key,
                col(AgentSession.agent_id) == who.agent.id,
                col(AgentSession.revoked_at).is_(None),
            )
            .values(revoked_at=real_now())
        )
        if ended.rowcount == 1:
            _note(session, service, who.agent, "end_session")
        return ended.rowcount == 1


def end_all_sessions(service: Service, who: SignedIn) -> None:
    with writing(service.engine) as session:
        revoke_all(session, who.agent.id)
        _note(session, service, who.agent, "end_all_sessions")


def change_password(service: Service, who: SignedIn, present: str, new: str, again: str) -> str | Refusal:
    """The cookie of a new session: all others end. Raises ``Unfit``."""
    reason = gettext("The two new passwords differ.") if new != again else reason_against(new, who.agent.login)
    if reason:
        raise Unfit(reason)
    agent = checked_password(service, who.agent.login, present)
    if isinstance(agent, Refusal):
        return agent
    hashed = hash_password(new)
    with writing(service.engine) as session:
        forget_tries(session, agent)
        session.execute(update(Agent).where(col(Agent.id) == agent.id).values(password_hash=hashed))
        _note(session, service, agent, "change_password")
        return _begin_anew(session, service, who)


def set_language(service: Service, who: SignedIn, language: str) -> bool:
    """Whether the pages can be read in it; from now on they are, for this person."""
    if language not in languages():
        return False
    with writing(service.engine) as session:
        session.execute(update(Agent).where(col(Agent.id) == who.agent.id).values(language=language))
        _note(session, service, who.agent, "set_language")
    return True


def begin_factor(service: Service, who: SignedIn) -> None:
    with writing(service.engine) as session:
        second_factor.begin(session, service, who.agent.id)


def confirm_factor(service: Service, who: SignedIn, code: str) -> tuple[str, list[str]] | Refusal:
    """The cookie of a new session, and the recovery codes; all other sessions end: they began without a code."""
    agent = count_try(service, who.agent.login)
    if not isinstance(agent, Agent):
        return Refusal.WAIT
    with writing(service.engine) as session:
        codes = second_factor.confirm(session, service, agent, code, real_now())
        if codes is None:
            return Refusal.WRONG_CODE
        _note(session, service, agent, "set_second_factor")
        forget_tries(session, agent)
        return _begin_anew(session, service, who), codes


def new_codes(service: Service, who: SignedIn, code: str) -> list[str] | Refusal:
    with _proven(service, who, code, "new_recovery_codes") as proof:
        if isinstance(proof, Refusal):
            return proof
        return second_factor.new_recovery_codes(proof, service, who.agent.id)


def remove_factor(service: Service, who: SignedIn, code: str) -> Refusal | None:
    with _proven(service, who, code, "remove_second_factor") as proof:
        if isinstance(proof, Refusal):
            return proof
        second_factor.remove(proof, who.agent.id)
    return None


@contextmanager
def _proven(service: Service, who: SignedIn, code: str, action: str) -> Iterator[Session | Refusal]:
    """The transaction in which somebody who has just given a right code does what the audit then says, or why not."""
    agent = count_try(service, who.agent.login)
    if not isinstance(agent, Agent):
        yield Refusal.WAIT
        return
    with writing(service.engine) as session:
        if second_factor.accept(session, service, agent, code, real_now()) is None:
            yield Refusal.WRONG_CODE
            return
        _note(session, service, agent, action)
        forget_tries(session, agent)
        yield session


def _begin_anew(session: Session, service: Service, who: SignedIn) -> str:
    device = session.get_one(AgentSession, who.token_key).device
    revoke_all(session, who.agent.id)
    return open_session(session, service, who.agent, device or "")


def _note(session: Session, service: Service, agent: Agent, action: str) -> None:
    session.add(Audit(at=service.clock.now(), agent_id=agent.id, action=action))
