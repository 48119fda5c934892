"""A drying log opened by its number and a PIN: made and ended by agents, counted and locked against guessing.

Rules of this file
- The PIN is stored as an argon2 hash only. It is shown once, to the agent who made it.
- A try is counted before the PIN is looked at, in a transaction of its own, so that many at once gain nothing.
- An absent number, a wrong PIN, an ended PIN and a locked log get one answer and cost one hash: who guesses learns
  nothing. Only the address that tried too often is told to wait, whatever it tried.
- Tries, locks and looks are counted in real time. How long a PIN holds is a date of the service, by its clock.
"""

from __future__ import annotations

import datetime as dt
import secrets
from enum import StrEnum
from typing import Any

from sqlalchemy import delete, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, col, select

from guide_service.console.passwords import TooManyAtOnce, hash_password, matches
from guide_service.console.sign_in import real_now
from guide_service.database import reading, writing
from guide_service.records import Audit, DryingLog, Household, LogTries, LogVisit
from guide_service.wiring import Service

NUMBER_DIGITS, PIN_DIGITS = 8, 8
DAYS = (1, 7, 14, 30, 90)
"""How long a PIN may hold; an agent chooses. Our choice: a season of rebuilding at most."""
LOOK_MINUTES = 30
FREE_TRIES = 5
FIRST_WAIT, LONGEST_WAIT = dt.timedelta(minutes=1), dt.timedelta(hours=12)
MOST_WRONG = 25
"""Then the PIN is ended: out of a hundred million PINs that is a chance of 1 in 4 million."""
FREE_TRIES_OF_ADDRESS = 10
"""Several people may share one address on the network."""
TRIES_ARE_FORGOTTEN = dt.timedelta(days=1)

_tries: Any = LogTries.__table__  # type: ignore[attr-defined]


class NotOpened(StrEnum):
    WRONG = "wrong"
    WAIT = "wait"


def log_of(session: Session, home: Household) -> DryingLog:
    """The log of a household; it gets its number when it is first opened."""
    connection = session.connection()
    insert = {"sqlite": sqlite, "postgresql": postgresql}[connection.dialect.name].insert(DryingLog)
    number = "".join(secrets.choice("0123456789") for _ in range(NUMBER_DIGITS))
    row = DryingLog(household_id=home.id, number=number).model_dump()
    connection.execute(insert.values(row).on_conflict_do_nothing(index_elements=["household_id"]))
    return session.exec(select(DryingLog).where(DryingLog.household_id == home.id)).one()


def new_pin(session: Session, log: DryingLog, agent_id: int, days: int, for_whom: str, now: dt.datetime) -> str:
    """The PIN, to be shown once; an earlier one opens nothing any more, and looks that it opened are over."""
    pin = "".join(secrets.choice("0123456789") for _ in range(PIN_DIGITS))
    session.connection().execute(delete(LogVisit).where(col(LogVisit.log_id) == log.id))
    log.pin_hash, log.pin_for = hash_password(pin), for_whom[:80]
    log.pin_made_by, log.pin_made_at, log.pin_ends_at = agent_id, now, now + dt.timedelta(days=days)
    log.wrong_tries, log.locked_until = 0, None
    session.add(log)
    return pin


def end_pin(session: Session, log: DryingLog) -> None:
    log.pin_hash = None
    session.add(log)


def has_pin(log: DryingLog, now: dt.datetime) -> bool:
    return log.pin_hash is not None and log.pin_ends_at is not None and log.pin_ends_at > now


def open_log(service: Service, number: str, pin: str, address: str) -> str | NotOpened:
    """The cookie of a short look, or why there is none."""
    key = service.sealer.token_key(f"address of a log's reader {address}")
    if not _address_may_try(service, key):
        return NotOpened.WAIT
    log = _count_try(service, _digits(number)[: NUMBER_DIGITS + 1])
    try:
        right = matches(_digits(pin)[: PIN_DIGITS + 1], log.pin_hash if log else None)
    except TooManyAtOnce:
        return NotOpened.WAIT
    if not right or log is None:
        return NotOpened.WRONG
    return _opened(service, log, key)


def _digits(typed: str) -> str:
    """With the dash and the spaces that people write."""
    return "".join(each for each in typed if each.isascii() and each.isdigit())


def looked_at(service: Service, token: str | None) -> DryingLog | None:
    """The log that this cookie opens, while the PIN that it was got with holds."""
    if not token:
        return None
    with reading(service.engine) as session:
        visit = session.get(LogVisit, service.sealer.token_key(token))
        log = session.get(DryingLog, visit.log_id) if visit else None
    if visit is None or log is None or visit.ends_at <= real_now():
        return None
    return log if has_pin(log, service.clock.now()) else None


def leave(service: Service, token: str | None) -> None:
    with writing(service.engine) as session:
        visit = session.get(LogVisit, service.sealer.token_key(token)) if token else None
        if visit is not None:
            session.delete(visit)


def _address_may_try(service: Service, key: str) -> bool:
    """Counts the try; a right one takes it back."""
    now = real_now()
    with writing(service.engine) as session:
        connection = session.connection()
        insert = {"sqlite": sqlite, "postgresql": postgresql}[connection.dialect.name].insert(_tries)
        connection.execute(insert.values(address_key=key, wrong_tries=0, last_at=now).on_conflict_do_nothing())
        row = session.exec(select(LogTries).where(LogTries.address_key == key).with_for_update()).one()
        if row.locked_until and row.locked_until > now:
            return False
        if now - row.last_at > TRIES_ARE_FORGOTTEN:
            row.wrong_tries = 0
        row.wrong_tries, row.last_at = row.wrong_tries + 1, now
        row.locked_until = _locked_until(row.wrong_tries, FREE_TRIES_OF_ADDRESS)
        session.add(row)
    return True


def _count_try(service: Service, number: str) -> DryingLog | None:
    """The log, if its PIN may be tried now."""
    with writing(service.engine) as session:
        log = session.exec(select(DryingLog).where(DryingLog.number == number).with_for_update()).first()
        home = session.get(Household, log.household_id) if log else None
        if log is None or home is None or home.merged_into or not has_pin(log, service.clock.now()):
            return None
        if log.locked_until and log.locked_until > real_now():
            return None
        log.wrong_tries += 1
        log.locked_until = _locked_until(log.wrong_tries, FREE_TRIES)
        session.add(log)
        session.add(_audit(service, log, "try_log_pin", tries=str(log.wrong_tries)))
        if log.wrong_tries <= MOST_WRONG:
            return log
        end_pin(session, log)
    return None


def _opened(service: Service, log: DryingLog, address_key: str) -> str | NotOpened:
    """Unless the PIN was ended or replaced while it was looked at."""
    token, now = secrets.token_urlsafe(32), real_now()
    ends = now + dt.timedelta(minutes=LOOK_MINUTES)
    with writing(service.engine) as session:
        if session.get_one(DryingLog, log.id, with_for_update=True).pin_hash != log.pin_hash:
            return NotOpened.WRONG
        session.add(LogVisit(token_key=service.sealer.token_key(token), log_id=log.id, opened_at=now, ends_at=ends))
        right = {"wrong_tries": 0, "locked_until": None}
        session.connection().execute(update(DryingLog).where(col(DryingLog.id) == log.id).values(**right))
        session.connection().execute(update(LogTries).where(col(LogTries.address_key) == address_key).values(**right))
        session.add(_audit(service, log, "open_log_by_pin", made_for=log.pin_for))
    return token


def note_look(service: Service, log: DryingLog, paper: str) -> None:
    with writing(service.engine) as session:
        session.add(_audit(service, log, "look_log_by_pin", paper=paper))


def _audit(service: Service, log: DryingLog, action: str, **detail: str) -> Audit:
    return Audit(at=service.clock.now(), agent_id=None, household_id=log.household_id, action=action, detail=detail)


def _locked_until(wrong_tries: int, free: int) -> dt.datetime | None:
    over = wrong_tries - free
    if over < 0:
        return None
    wait: dt.timedelta = min(FIRST_WAIT * 2 ** min(over, 12), LONGEST_WAIT)
    return real_now() + wait
