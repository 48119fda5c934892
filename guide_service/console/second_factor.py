"""The second factor: codes of an authenticator app (TOTP, RFC 6238) and the recovery codes that stand in for it.

Each code is good once: the time step of the last one taken is kept, and none up to it is taken again (RFC 6238, 5.2).
One step before and one after are allowed for clocks that differ (ibid.). All of it goes by real time.
"""

from __future__ import annotations

import datetime as dt
import hmac
import secrets
from enum import StrEnum

import pyotp
from sqlalchemy import delete, or_, update
from sqlmodel import Session, col, func, select

from guide_service.console.scope import sees_everything
from guide_service.county import County
from guide_service.records import Agent, RecoveryCode
from guide_service.wiring import Service

STEP_SECONDS = 30
DIGITS = 6
RECOVERY_CODES = 10
_ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"
"""Without signs that are taken for each other: 31 of them, so that 16 hold 79 bits."""
_GROUPS, _GROUP = 4, 4


class Factor(StrEnum):
    APP = "app"
    RECOVERY = "recovery"


def is_set(agent: Agent) -> bool:
    return agent.factor_set_at is not None


def is_required(agent: Agent, county: County) -> bool:
    """By the office whose households the agent sees; a coordinator sees all of them."""
    return any(office.second_factor for office in county.offices if sees_everything(agent) or office.id == agent.office)


def begin(session: Session, service: Service, agent_id: int) -> None:
    """A new secret, which counts once a code of it was seen. One that is set stays as it is."""
    sealed, key_id = service.sealer.seal_factor(pyotp.random_base32())
    session.execute(
        update(Agent)
        .where(col(Agent.id) == agent_id, col(Agent.factor_set_at).is_(None))
        .values(factor_sealed=sealed, factor_key_id=key_id, factor_step=None)
    )


def confirm(session: Session, service: Service, agent: Agent, code: str, now: dt.datetime) -> list[str] | None:
    """Sets it with the first code of the app: the recovery codes, to be shown once; None for a wrong code."""
    step = _step_of(secret_of(service, agent), code, now)
    if is_set(agent) or step is None:
        return None
    changed = session.connection().execute(
        update(Agent)
        .where(col(Agent.id) == agent.id, col(Agent.factor_set_at).is_(None))
        .values(factor_set_at=now, factor_step=step)
    )
    return new_recovery_codes(session, service, agent.id) if changed.rowcount == 1 else None


def accept(session: Session, service: Service, agent: Agent, code: str, now: dt.datetime) -> Factor | None:
    """Takes a code of the app or a recovery code, each once; None when it is neither."""
    typed = "".join(character for character in code.lower() if character.isalnum())
    if typed.isdigit() and len(typed) == DIGITS:
        return Factor.APP if _take_step(session, service, agent, typed, now) else None
    return Factor.RECOVERY if _take_recovery(session, service, agent.id, typed, now) else None


def new_recovery_codes(session: Session, service: Service, agent_id: int) -> list[str]:
    """Ten new ones in place of all earlier ones; only their hashes are kept."""
    session.execute(delete(RecoveryCode).where(col(RecoveryCode.agent_id) == agent_id))
    codes = [_new_code() for _ in range(RECOVERY_CODES)]
    for code in codes:
        session.add(RecoveryCode(agent_id=agent_id, code_key=service.sealer.recovery_keys(_plain(code))[0]))
    return codes


def remove(session: Session, agent_id: int) -> None:
    session.execute(
        update(Agent)
        .where(col(Agent.id) == agent_id)
        .values(factor_sealed=None, factor_key_id=None, factor_set_at=None, factor_step=None)
    )
    session.execute(delete(RecoveryCode).where(col(RecoveryCode.agent_id) == agent_id))


def recovery_codes_left(session: Session, agent_id: int) -> int:
    left = select(func.count()).select_from(RecoveryCode)
    mine = left.where(RecoveryCode.agent_id == agent_id, col(RecoveryCode.used_at).is_(None))
    return session.exec(mine).one()


def secret_of(service: Service, agent: Agent) -> str | None:
    """The secret in the letters that one types into the app."""
    if agent.factor_sealed is None or agent.factor_key_id is None:
        return None
    return service.sealer.open_factor(agent.factor_sealed, agent.factor_key_id)


def address_for_app(service: Service, agent: Agent, secret: str) -> str:
    """What the square code holds: the ``otpauth`` address that authenticator apps read."""
    return pyotp.TOTP(secret, digits=DIGITS, interval=STEP_SECONDS).provisioning_uri(
        name=agent.login, issuer_name=service.county.name
    )


def _step_of(secret: str | None, code: str, now: dt.datetime) -> int | None:
    """The time step whose code this is, the present one or a neighbour."""
    typed = "".join(character for character in code if character.isalnum())
    if secret is None or len(typed) != DIGITS:
        return None
    app, here = pyotp.HOTP(secret, digits=DIGITS), int(now.timestamp()) // STEP_SECONDS
    fits = [step for step in (here - 1, here, here + 1) if hmac.compare_digest(app.at(step).encode(), typed.encode())]
    return max(fits, default=None)


def _take_step(session: Session, service: Service, agent: Agent, code: str, now: dt.datetime) -> bool:
    step = _step_of(secret_of(service, agent), code, now)
    if step is None or not is_set(agent):
        return False
    unused = or_(col(Agent.factor_step).is_(None), col(Agent.factor_step) < step)
    taken = update(Agent).where(col(Agent.id) == agent.id, unused).values(factor_step=step)
    return session.connection().execute(taken).rowcount == 1


def _take_recovery(session: Session, service: Service, agent_id: int, typed: str, now: dt.datetime) -> bool:
    taken = (
        update(RecoveryCode)
        .where(
            col(RecoveryCode.agent_id) == agent_id,
            col(RecoveryCode.code_key).in_(service.sealer.recovery_keys(typed)),
            col(RecoveryCode.used_at).is_(None),
        )
        .values(used_at=now)
    )
    return session.connection().execute(taken).rowcount == 1


def _new_code() -> str:
    letters = [secrets.choice(_ALPHABET) for _ in range(_GROUPS * _GROUP)]
    return "-".join("".join(letters[at : at + _GROUP]) for at in range(0, len(letters), _GROUP))


def _plain(code: str) -> str:
    return code.replace("-", "")
