"""Live pages: a browser holds a stream open and hears that something changed; it then asks for the part it shows.

Works with any number of web processes, because each looks into the database: one cheap mark every two seconds for all
streams of the process. Nothing about a household goes over a stream. Streams are few for each session and for the
process, end with the session, and are opened anew by the browser after some minutes.
"""

from __future__ import annotations

import asyncio
import hashlib
import threading
import time
from collections import Counter
from collections.abc import AsyncIterator, Callable, Sequence

from sqlalchemy import func
from sqlalchemy import select as columns
from sqlmodel import Session, col, select
from starlette.concurrency import run_in_threadpool

from guide_service.console.sign_in import SignedIn, session_stands
from guide_service.database import reading
from guide_service.records import Escalation, Household, Message
from guide_service.wiring import Service

EVERY_SECONDS = 2.0
SESSION_LOOKED_AT_EVERY = 10.0
LONGEST_SECONDS = 300.0
MOST_OF_A_SESSION = 4
"""A browser opens six connections to a host over HTTP/1.1; the pages themselves need some."""
MOST_OF_A_PROCESS = 200
CHANGED, ENDED, STILL_HERE = "event: changed\ndata: 1\n\n", "event: ended\ndata: 1\n\n", ": here\n\n"


class Streams:
    """How many are open in this process, by session."""

    def __init__(self) -> None:
        self._open: Counter[str] = Counter()
        self._lock = threading.Lock()

    def has_room(self, session_key: str) -> bool:
        return self._open[session_key] < MOST_OF_A_SESSION and self._open.total() < MOST_OF_A_PROCESS

    def enter(self, session_key: str) -> bool:
        with self._lock:
            if not self.has_room(session_key):
                return False
            self._open[session_key] += 1
            return True

    def leave(self, session_key: str) -> None:
        with self._lock:
            self._open[session_key] -= 1
            if not self._open[session_key]:
                del self._open[session_key]


class Watch:
    """The mark of the waiting list, looked up at most every two seconds however many streams ask for it."""

    def __init__(self, service: Service) -> None:
        self.service, self._mark, self._looked = service, "", float("-inf")

    def now(self) -> str:
        moment = time.monotonic()
        if moment - self._looked >= EVERY_SECONDS:
            self._looked = moment
            with reading(self.service.engine) as session:
                self._mark = waiting_mark(session)
        return self._mark


def waiting_mark(session: Session) -> str:
    """Changes whenever an escalation is raised, raised again, claimed, released or settled."""
    query = (
        columns(
            col(Escalation.state),
            func.count(),
            func.sum(Escalation.times),
            func.sum(Escalation.urgency),
            func.max(Escalation.id),
            func.max(Escalation.claimed_at),
        )
        .where(col(Escalation.state).in_(("waiting", "claimed")))
        .group_by(col(Escalation.state))
    )
    return _digest(sorted(str(row) for row in session.connection().execute(query)))


def household_mark(session: Session, household_id: int) -> str:
    """Changes with every turn, every change of an agent, every text."""
    version = select(Household.version).where(Household.id == household_id)
    newest = select(func.max(Message.id)).where(Message.household_id == household_id)
    return _digest([session.exec(version).first(), session.exec(newest).first()])


def _digest(parts: Sequence[object]) -> str:
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:16]


async def changes(
    service: Service, who: SignedIn, seen: str, mark: Callable[[], str], stopping: Callable[[], bool]
) -> AsyncIterator[str]:
    """The events of one stream. ``seen`` is the mark that the page was made with: nothing falls between the two."""
    began = looked = time.monotonic()
    while not stopping():
        now = await run_in_threadpool(mark)
        yield CHANGED if now != seen else STILL_HERE
        seen = now
        moment = time.monotonic()
        if moment - looked >= SESSION_LOOKED_AT_EVERY:
            looked = moment
            if not await run_in_threadpool(session_stands, service, who.token_key):
                yield ENDED
                return
        if moment - began >= LONGEST_SECONDS:
            return
        await asyncio.sleep(EVERY_SECONDS)
