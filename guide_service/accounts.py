"""Accounts of agents: made, changed and closed by whoever runs the service."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection
from typing import Any

from sqlalchemy import Engine
from sqlmodel import Session, select

from guide_service.console import second_factor
from guide_service.console.passwords import hash_password, reason_against
from guide_service.console.roles import HAVE_AN_OFFICE, Role
from guide_service.console.sign_in import may_enter, real_now, revoke_all
from guide_service.database import writing
from guide_service.records import Agent, Audit


class AccountRefused(Exception):
    """Why an account cannot be made or changed, as one line."""


def save_account(
    engine: Engine,
    offices: Collection[str],
    login: str,
    name: str,
    password: str,
    office: str | None,
    role: Role,
    ends: dt.datetime | None = None,
) -> None:
    """Makes the account or changes the one of that login; old sessions of a changed one end."""
    login = login.strip().lower()
    reason = _reason_against(offices, login, office, role) or reason_against(password, login)
    if reason:
        raise AccountRefused(reason)
    values: dict[str, Any] = {
        "name": name,
        "office": office if role in HAVE_AN_OFFICE else None,
        "role": role.value,
        "password_hash": hash_password(password),
        "expires_at": ends,
        "disabled_at": None,
        "failed_tries": 0,
        "locked_until": None,
    }
    with writing(engine) as session:
        agent = _find(session, login)
        if agent is None:
            session.add(Agent(login=login, created_at=real_now(), **values))
        else:
            agent.sqlmodel_update(values)
            revoke_all(session, agent.id)


def disable_account(engine: Engine, login: str) -> None:
    with writing(engine) as session:
        agent = _find(session, login.strip().lower())
        if agent is None:
            raise AccountRefused(f"there is no account {login!r}")
        agent.disabled_at = real_now()
        session.add(Audit(at=real_now(), agent_id=agent.id, action="disable_account", detail={"by": "command line"}))
        revoke_all(session, agent.id)


def reset_second_factor(engine: Engine, login: str) -> None:
    """For a lost phone: only the password is asked for, until the person has set a factor up again."""
    with writing(engine) as session:
        agent = _find(session, login.strip().lower())
        if agent is None:
            raise AccountRefused(f"there is no account {login!r}")
        second_factor.remove(session, agent.id)
        revoke_all(session, agent.id)
        session.add(
            Audit(at=real_now(), agent_id=agent.id, action="reset_second_factor", detail={"by": "command line"})
        )


def state_of(agent: Agent) -> str:
    if agent.disabled_at:
        return "disabled"
    if not may_enter(agent):
        return "expired"
    return f"until {agent.expires_at:%Y-%m-%d}" if agent.expires_at else "active"


def _find(session: Session, login: str) -> Agent | None:
    return session.exec(select(Agent).where(Agent.login == login)).first()


def _reason_against(offices: Collection[str], login: str, office: str | None, role: Role) -> str | None:
    if not re.fullmatch(r"[a-z0-9._-]{2,60}", login):
        return "a login has 2 to 60 letters, digits, dots or dashes"
    if role in HAVE_AN_OFFICE and office not in offices:
        return f"name the office with --office ({', '.join(offices)}), or use --coordinator"
    return None
