"""What the households of a kill test text, day by day, and what must stand in the records afterwards.

The same days are lived twice: once undisturbed in this process, once by real processes that are killed. Both must end
with the same texts, readings, jobs and escalations.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from sqlalchemy import Engine
from sqlmodel import Session, col, select

from guide_service.carrier.form import InboundText
from guide_service.database import reading
from guide_service.records import Contact, Conversation, Escalation, Job, Membership, Message, ReadingRow
from guide_service.turn import take_turn
from guide_service.wiring import Service
from tests.people import work

ZONE = ZoneInfo("America/New_York")
FIRST_DAY = dt.date(2027, 5, 19)
FOLLOW_UP = ("send_text", "check_due", "nudge_due", "silent")
SIGNING_UP = ("HELLO", "1", "1", "Millrace", "12 Weir St")
PLACES = ("places", "wood studs", "kitchen", "2", "1 2", "plain wood", "that is all", "there is none")
METER = ("I have one", "two sharp pins", "skip")
CHECK = ("K1 22 19 17, K2 21 19 18", "wood setting, pins")
SECOND = ("how are we doing", "K1 21 19 17, K2 20 18 17", "wood setting, pins", "how are we doing")
THIRD = ("K1 20 18 16, K2 19 18 16", "wood setting, pins", "help", "how are we doing")


@dataclass(frozen=True, slots=True)
class Day:
    """One day of all households, from nine in the morning."""

    offset: int
    answering: tuple[str, ...] = ()
    """Texts of the households that answer their reminders."""
    silent: tuple[str, ...] = ()
    """Texts of those that do not."""

    def begins(self) -> dt.datetime:
        day = FIRST_DAY + dt.timedelta(days=self.offset)
        return dt.datetime.combine(day, dt.time(9, 5), ZONE).astimezone(dt.UTC)

    def texts_of(self, household: int) -> tuple[str, ...]:
        return self.silent if household % 2 else self.answering


BEGINNING = (*SIGNING_UP, *PLACES, *METER, *CHECK)
DAYS = (
    Day(0, BEGINNING, BEGINNING),
    Day(7, SECOND),  # the reminder; half of them do not answer it
    Day(9),
    Day(11),
    Day(13),
    Day(14, THIRD, ("K1 21 18 17, K2 20 18 16", "wood setting, pins")),
)
LEAST_READINGS, LEAST_STARTED = 12, (1, 3)
"""Of every household that answers, and that does not: so that nothing passes because nothing happened."""


def number_of(household: int) -> str:
    """Of the range that is kept free for fiction, in one area code after the other."""
    area = (202, 303, 404, 212, 312, 415, 503, 602, 702, 806)[household // 100]
    return f"+1{area}55501{household % 100:02d}"


def live_undisturbed(service: Service, households: int) -> None:
    clock, sids = service.clock, 0
    for day in DAYS:
        clock.at = day.begins()  # type: ignore[attr-defined]
        _work_all(service)
        for household in range(households):
            for text in day.texts_of(household):
                sids += 1
                take_turn(service, _inbound(service, number_of(household), text, f"SMplain{sids}"))
        _work_all(service)


def _work_all(service: Service) -> None:
    while work(service):
        service.clock.advance(seconds=20)  # type: ignore[attr-defined]


def _inbound(service: Service, number: str, text: str, sid: str) -> InboundText:
    return InboundText(sid, service.settings.account_sid, number, service.settings.number, text)


@dataclass(frozen=True, slots=True)
class Story:
    """What the records say of one household, without ids and instants."""

    texts: Counter[tuple[str, str, str]]
    readings: Counter[tuple[object, ...]]
    follow_up: Counter[tuple[str, str]]
    escalations: Counter[tuple[str, str]]
    states: Counter[str]

    def differs(self, other: Story) -> list[str]:
        found = []
        for name in ("texts", "readings", "follow_up", "escalations", "states"):
            mine, theirs = getattr(self, name), getattr(other, name)
            if mine != theirs:
                found.append(f"{name}: missing {dict(theirs - mine)}, too many {dict(mine - theirs)}")
        return found


def story(engine: Engine, service: Service, number: str) -> Story:
    with reading(engine) as session:
        contact = session.exec(select(Contact).where(Contact.phone_key == service.sealer.phone_key(number))).one()
        homes = select(Membership.household_id).where(Membership.contact_id == contact.id)
        home = session.exec(homes).one()
        return Story(
            _texts(session, contact.id), _readings(session, home), _follow_up(session, home),
            Counter((each.reason, each.state) for each in _of(session, Escalation, home)),
            Counter(each.state for each in _of(session, Conversation, home)),
        )  # fmt: skip


def _texts(session: Session, contact_id: int) -> Counter[tuple[str, str, str]]:
    rows = session.exec(select(Message).where(Message.contact_id == contact_id, Message.origin != "alarm"))
    return Counter((row.direction, row.origin, row.body or "") for row in rows)


def _readings(session: Session, home: int) -> Counter[tuple[object, ...]]:
    rows = session.exec(select(ReadingRow).where(ReadingRow.household_id == home))
    return Counter((r.place, r.point, r.value, r.qualifier, str(r.taken_on), r.superseded_at is None) for r in rows)


def _follow_up(session: Session, home: int) -> Counter[tuple[str, str]]:
    live = col(Job.state).in_(("ready", "running"))
    rows = session.exec(select(Job).where(live, col(Job.kind).in_(FOLLOW_UP)))
    return Counter(
        (row.kind, str(row.run_at.astimezone(ZONE).date())) for row in rows if row.payload.get("household") == home
    )


def _of(session: Session, table: type, home: int) -> list[object]:
    return list(session.exec(select(table).where(table.household_id == home)))  # type: ignore[attr-defined]
