"""The port to all work that falls due: seven functions on one table, in the caller's own transaction.

Rules of this file. At most one live job per key. The newest word wins: ``enqueue`` and ``cancel`` also take a *running*
job from its worker, whose ``finish`` is then refused; a worker that settles its job in the transaction of its effect
thus rolls back what nobody wants any more. ``run_at`` is a date of the service (the demo's clock); leases are real
time. Jobs with an earlier ``run_at`` go first, then those made first; kinds of ``LAST_KINDS`` only when nothing else is
due, so that a text to one person or an alarm never waits behind a text to thousands. A payload holds ids only and
handlers bear unknown fields, since jobs outlive deploys.

States: ready -> running -> done; ready or running -> cancelled; running -> ready (failed, lease run out) or dead.
"""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Collection
from typing import Any

from sqlalchemy import Connection, bindparam, case, delete, literal, null, select, text, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session

from guide_service.records import Job
from guide_service.records.base import new_id
from guide_service.records.job import LIVE
from guide_service.records.prepared import Prepared

LEASE_SECONDS = 120.0
"""Longer than the longest call of a handler: a look-up of two requests and a send, each with the carrier's time-out.
What takes longer works in slices and says after each that it is still at it (``Work.go_on``)."""
MAX_ATTEMPTS = 12
"""With the back-off below about three and a half hours, long enough for a carrier's bad afternoon."""
FIRST_BACK_OFF = dt.timedelta(seconds=10)
LONGEST_BACK_OFF = dt.timedelta(hours=1)

LAST_KINDS = ("notice", "send_many")
"""Texts to many: whatever else is due goes first, however long these have been due."""

_jobs: Any = Job.__table__  # type: ignore[attr-defined]
_LIVE_KEY: dict[str, Any] = {"index_elements": ["key"], "index_where": text(LIVE)}
_FRESH: dict[str, Any] = {
    "state": "ready",
    "attempts": 0,
    "lease_until": null(),
    "worker": null(),
    "last_error": null(),
}


def _insert(dialect: Any) -> Any:
    new = ("id", "kind", "key", "payload", "run_at", "created_at")
    values = {name: bindparam(name, type_=_jobs.c[name].type) for name in new}
    return dialect.insert(_jobs).values(**values, state="ready", attempts=0)


def _replacing(dialect: Any) -> Any:
    insert = _insert(dialect)
    taken = {name: insert.excluded[name] for name in ("kind", "payload", "run_at", "created_at")}
    return insert.on_conflict_do_update(**_LIVE_KEY, set_={**taken, **_FRESH})


_ENQUEUE = Prepared({"sqlite": _replacing(sqlite), "postgresql": _replacing(postgresql)})
_ENQUEUE_ONCE = Prepared(
    {
        "sqlite": _insert(sqlite).on_conflict_do_nothing(**_LIVE_KEY),
        "postgresql": _insert(postgresql).on_conflict_do_nothing(**_LIVE_KEY),
    }
)
_CANCEL = Prepared(
    update(_jobs)
    .where(_jobs.c.key == bindparam("live_key"), text(LIVE))
    .values(state="cancelled", lease_until=None)
    .returning(_jobs.c.kind, _jobs.c.payload)
)

_now, _real_now = bindparam("now", type_=_jobs.c.run_at.type), bindparam("real_now", type_=_jobs.c.run_at.type)
_WANTED = (literal(True) == bindparam("every_kind")) | _jobs.c.kind.in_(bindparam("kinds", expanding=True))


def _first(*conditions: Any) -> Any:
    rows = select(_jobs.c.id).where(*conditions, _WANTED).order_by(_jobs.c.run_at, _jobs.c.id).limit(1)
    return rows.with_for_update(skip_locked=True).scalar_subquery()


def _claiming(*conditions: Any) -> Any:
    taken = {"state": "running", "worker": bindparam("by"), "attempts": _jobs.c.attempts + 1}
    lease = bindparam("lease", type_=_jobs.c.lease_until.type)
    return update(_jobs).where(_jobs.c.id == _first(*conditions)).values(**taken, lease_until=lease).returning(*_jobs.c)


_CLAIM_ABANDONED = _claiming(_jobs.c.state == "running", _jobs.c.lease_until < _real_now)
_DUE = (_jobs.c.state == "ready", _jobs.c.run_at <= _now)
# two statements, not an order by kind: each finds its row at once by the index on (state, run_at)
_CLAIM_DUE = _claiming(*_DUE, _jobs.c.kind.not_in(LAST_KINDS))
_CLAIM_LAST = _claiming(*_DUE, _jobs.c.kind.in_(LAST_KINDS))
_ANY_DUE = select(_jobs.c.id).where(
    ((_jobs.c.state == "ready") & (_jobs.c.run_at <= _now))
    | ((_jobs.c.state == "running") & (_jobs.c.lease_until < _real_now))
)
_ANY_DUE = _ANY_DUE.limit(1)
_MINE = (_jobs.c.id == bindparam("job")) & (_jobs.c.state == "running") & (_jobs.c.worker == bindparam("by"))
_FINISH = update(_jobs).where(_MINE).values(state="done", lease_until=None)
_RENEW = update(_jobs).where(_MINE).values(lease_until=bindparam("lease", type_=_jobs.c.lease_until.type))
_HELD = select(_jobs.c.id).where(_MINE).with_for_update()
_FAIL = (
    update(_jobs)
    .where(_MINE)
    .values(
        state=case((_jobs.c.attempts >= MAX_ATTEMPTS, "dead"), else_="ready"),
        run_at=bindparam("again", type_=_jobs.c.run_at.type),
        last_error=bindparam("error"),
        lease_until=None,
        worker=None,
    )
    .returning(_jobs.c.state)
)


Place = Session | Connection
"""Where the caller's transaction is open."""


def enqueue(
    place: Place,
    kind: str,
    *,
    key: str | None,
    payload: dict[str, Any],
    run_at: dt.datetime,
    now: dt.datetime,
    replace: bool = True,
) -> None:
    """The live job with this key is now this one, whether or not another was there or was running.

    With ``replace=False`` a live job of that key is left as it is.
    """
    statements = _ENQUEUE if replace else _ENQUEUE_ONCE
    row = {"id": new_id(), "kind": kind, "key": key, "payload": payload, "run_at": run_at, "created_at": now}
    statements.send(_connection(place), row)


def cancel(place: Place, *keys: str) -> None:
    """The live jobs of these keys, if there are any."""
    for key in keys:
        _CANCEL.send(_connection(place), {"live_key": key})


def cancelled(place: Place, *keys: str) -> list[tuple[str, dict[str, Any]]]:
    """As ``cancel``, naming kind and payload of each that there was."""
    connection = _connection(place)
    return [(row.kind, row.payload) for key in keys for row in _CANCEL.rows(connection, {"live_key": key})]


def bring_forward(place: Place, kind: str, keys: Any, latest: dt.datetime) -> int:
    """Jobs of a kind whose key is among ``keys`` (a query) and that would run later run then; how many there were."""
    later = (_jobs.c.kind == kind, _jobs.c.state == "ready", _jobs.c.run_at > latest, _jobs.c.key.in_(keys))
    return _connection(place).execute(update(_jobs).where(*later).values(run_at=latest)).rowcount


def _connection(place: Place) -> Connection:
    return place if isinstance(place, Connection) else place.connection()


def claim(
    session: Session, worker: str, now: dt.datetime, lease_seconds: float, kinds: Collection[str] | None = None
) -> Job | None:
    """The job that has been due longest, now this worker's; jobs whose worker is gone first, ``LAST_KINDS`` last."""
    real_now = dt.datetime.now(dt.UTC)
    wanted = {"every_kind": kinds is None, "kinds": list(kinds or ()), "by": worker, "now": now, "real_now": real_now}
    wanted["lease"] = real_now + dt.timedelta(seconds=lease_seconds)
    connection = session.connection()
    order = (_CLAIM_ABANDONED, _CLAIM_DUE, _CLAIM_LAST)
    row = next((found for each in order if (found := connection.execute(each, wanted).first())), None)
    return Job(**row._mapping) if row else None


def any_due(session: Session, now: dt.datetime) -> bool:
    """Whether a claim is worth a writing transaction."""
    moments = {"now": now, "real_now": dt.datetime.now(dt.UTC)}
    return session.connection().execute(_ANY_DUE, moments).first() is not None


def held(session: Session, job: Job, worker: str) -> bool:
    """Whether the job is still this worker's: not cancelled, replaced or taken over. It stays so until the commit."""
    return session.connection().execute(_HELD, {"job": job.id, "by": worker}).first() is not None


def renew(session: Session, job: Job, worker: str, lease_seconds: float) -> bool:
    """The lease begins anew, for work that goes on and on; False if the job is no longer this worker's."""
    until = dt.datetime.now(dt.UTC) + dt.timedelta(seconds=lease_seconds)
    return session.connection().execute(_RENEW, {"job": job.id, "by": worker, "lease": until}).rowcount == 1


def finish(session: Session, job: Job, worker: str) -> bool:
    """False if the job is no longer this worker's."""
    return session.connection().execute(_FINISH, {"job": job.id, "by": worker}).rowcount == 1


def fail(session: Session, job: Job, worker: str, error: str, now: dt.datetime) -> str | None:
    """Tried again later, or ``dead`` after the last attempt; the new state, None if the job is no longer this worker's.

    ``error`` names what went wrong and never a number or a text.
    """
    again = {"again": now + back_off(job.attempts), "error": error[:200], "job": job.id, "by": worker}
    state: str | None = session.connection().execute(_FAIL, again).scalar()
    return state


def back_off(attempts: int) -> dt.timedelta:
    """Twice as long each time, half of it by chance, so that what failed together does not come back together."""
    longest: dt.timedelta = min(FIRST_BACK_OFF * 2 ** min(max(attempts - 1, 0), 20), LONGEST_BACK_OFF)
    return longest * random.uniform(0.5, 1.0)


def forget_settled(session: Session, before: dt.datetime) -> int:
    """Removes jobs that ended and were made before then; dead ones stay until somebody has looked."""
    old = _jobs.c.state.in_(("done", "cancelled")) & (_jobs.c.created_at < before)
    return session.connection().execute(delete(_jobs).where(old)).rowcount
