"""Eight weeks of Larkwater County, lived through the same turns and the same worker as in the field, in quick motion.

The clock stands where the next thing happens: a text of somebody, or work that falls due. History ends at the present,
so that afterwards the demo simply goes on.
"""

from __future__ import annotations

import datetime as dt
import heapq
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from itertools import count

from sqlalchemy import func
from sqlmodel import Session, col, select

from guide_service.carrier.form import InboundText, StatusReport, row_id_of
from guide_service.clock import FixedClock
from guide_service.console import answering, escalations, rounds
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading, writing
from guide_service.demo_cast import CAST, LENT, Lent, Neighbour
from guide_service.followup import county_counts
from guide_service.followup.delivery_reports import apply_status
from guide_service.followup.worker import Worker
from guide_service.handset.carrier_side import REPORTS, new_sid
from guide_service.handset.loopback import LoopbackSender
from guide_service.handset.texts import RECEIVED, SENT, keep
from guide_service.lending import loans
from guide_service.records import Agent, Contact, Conversation, Escalation, Household, Job, PlaceRow
from guide_service.turn import take_turn
from guide_service.turning.people import people_of
from guide_service.wiring import Service

MOST_ANSWERS = 25
"""Answers in a row of one household: more would be a loop."""
MINUTES_BETWEEN = 3
SETTING_UP, EVENING = 16.0, 18.5
"""Local hours at which a household sets up its places, and measures."""
AT_THE_DESK = 11.0
"""When meters are fetched and brought back."""
ROUND_DAYS = 14
LATE = 23.5
"""When the counts of a day are taken that are compared with the next day's."""
LONGEST_AGO = dt.timedelta(days=60)
SEGMENTS_PER_SECOND = 100_000.0
"""The carrier's speed is not rehearsed here."""


@dataclass(frozen=True, slots=True)
class Happening:
    """Something that somebody does at a time."""

    at: dt.datetime
    do: Callable[[], None]


def seed(service: Service) -> None:
    """Fills an empty database; takes well under a minute."""
    Season(service, dt.datetime.now(dt.UTC)).run()


class Season:
    """The weeks before ``present``, on a clock of their own."""

    def __init__(self, service: Service, present: dt.datetime) -> None:
        self.present = present
        self.clock = FixedClock(present - LONGEST_AGO)
        hours = service.county.hours.model_copy(update={"segments_per_second": SEGMENTS_PER_SECOND})
        county = service.county.model_copy(update={"hours": hours})
        sender = LoopbackSender(service.engine, self.clock, service.settings, reporter=self._delivered)
        self.service = replace(service.with_county(county), clock=self.clock, sender=sender)
        self.worker = Worker(self.service, "demo-seeding", threading.Event())
        self.zone = county.zone(None)

    def run(self) -> None:
        order = count()
        ahead: list[tuple[dt.datetime, int, Happening]] = []
        for happening in self._happenings():
            if happening.at <= self.present:
                heapq.heappush(ahead, (happening.at, next(order), happening))
        while ahead:
            at, _, happening = heapq.heappop(ahead)
            self._work_until(at)
            self._set_clock(at)
            happening.do()
        self._work_until(self.present)
        self.count()

    # who does what when
    def _happenings(self) -> Iterator[Happening]:
        for person in CAST:
            for days_ago, hour, text in person.says:
                yield Happening(self._moment(days_ago, hour), partial(self.say, person, text))
            yield from self._evenings(person)
        for loan in LENT:
            yield Happening(self._moment(loan.ago, AT_THE_DESK), partial(self.agent_lends, loan))
            if loan.back is not None:
                yield Happening(self._moment(loan.back, AT_THE_DESK), partial(self.agent_takes_back, loan))
        for days_ago in range(1, LONGEST_AGO.days):
            yield Happening(self._moment(days_ago, LATE), self.count)
        yield Happening(self._moment(6, 21.0), lambda: self.agent_settles("0133", "danger", "called"))
        yield Happening(
            self._moment(11, 10.5), lambda: self.agent_answers("0124", "You are doing well. Keep the wall open.")
        )
        yield Happening(self._moment(1, 9.0), lambda: self.agent_sends_volunteer(("0123", "0127", "0130")))

    def _evenings(self, person: Neighbour) -> Iterator[Happening]:
        if person.drying is None:
            return
        day = person.first_check
        yield Happening(self._moment(day, SETTING_UP), partial(self.say, person, "PLACES"))
        while day >= max(person.measures_until, 1):
            yield Happening(self._moment(day, EVENING), partial(self.measure, person, day))
            day -= 1

    def _moment(self, days_ago: float, hour: float) -> dt.datetime:
        """A local hour of a day ago; a negative hour counts back from the present."""
        if hour < 0:
            return self.present + dt.timedelta(hours=hour)
        day = (self.present.astimezone(self.zone) - dt.timedelta(days=days_ago)).date()
        return dt.datetime.combine(day, dt.time(), self.zone) + dt.timedelta(hours=hour)

    # what people do
    def say(self, person: Neighbour, text: str) -> None:
        """One text, and then an answer to whatever is asked, as far as this household answers."""
        self._send(person, text)
        last = None
        for _ in range(MOST_ANSWERS):
            state, offered = self._asked(person)
            answer = self._readings(person) if state == "check.point" else person.answer(state)
            answer = offered.get(answer or "", answer)
            if not answer or (state, answer) == last:
                return
            last = (state, answer)
            self._set_clock(self.clock.now() + dt.timedelta(minutes=MINUTES_BETWEEN))
            self._send(person, answer)

    def measure(self, person: Neighbour, days_ago: float) -> None:
        """All places in one text, on the first day and then whenever a check is due."""
        home = self._household(person)
        today = self.clock.now().astimezone(self.zone).date()
        readings = self._readings(person)
        if home and readings and (days_ago == person.first_check or _is_due(home, today)):
            self.say(person, readings)

    def agent_settles(self, digits: str, reason: str, outcome: str) -> None:
        with self._as_agent(digits) as (session, who, home):
            waiting = select(Escalation).where(Escalation.household_id == home.id, Escalation.reason == reason)
            for escalation in session.exec(waiting).all():
                escalations.claim(session, self.service, who, escalation)
                escalations.settle(session, self.service, who, escalation, outcome)

    def agent_answers(self, digits: str, words: str) -> None:
        with self._as_agent(digits) as (session, who, home):
            text = answering.agents_text(words)
            answering.answer(session, self.service, who, home.id, people_of(session, home.id)[0], text, silence=False)

    def agent_lends(self, lent: Lent) -> None:
        with self._as_agent(lent.digits) as (session, who, home):
            due_on = self.clock.now().astimezone(self.zone).date() + dt.timedelta(days=lent.days)
            places = self.service.county.meter_places
            place = next((each for each in places if each.area == home.area), places[0])
            loans.lend(session, self.service, who.agent.id, home, lent.meter, place.name, due_on)

    def agent_takes_back(self, lent: Lent) -> None:
        with self._as_agent(lent.digits) as (session, who, home):
            loan = loans.loan_out(session, lent.meter)
            if loan is None:
                raise LookupError(lent.meter)
            loans.take_back(session, self.service, who.agent.id, home, loan)

    def agent_sends_volunteer(self, houses: tuple[str, ...]) -> None:
        """To measure in these houses during the days to come."""
        first = self.present.astimezone(self.zone).date()
        for digits in houses:
            with self._as_agent(digits) as (session, who, home):
                volunteer = rounds.volunteers_for(session, who)[0].id
                last = first + dt.timedelta(days=ROUND_DAYS)
                rounds.assign(session, self.service, who, home, volunteer, first, last)

    def count(self) -> None:
        """The worker's counts of the county: their jobs come every ten minutes, too often for eight weeks."""
        counted = county_counts.counted_now(self.service)
        with writing(self.service.engine) as session:
            county_counts.keep(session, counted)

    # how it happens
    def _send(self, person: Neighbour, text: str) -> None:
        sid, settings = new_sid(), self.service.settings
        keep(self.service.engine, person.number, SENT, text, sid, self.clock.now())
        answer = take_turn(self.service, InboundText(sid, settings.account_sid, person.number, settings.number, text))
        for row, body in answer.texts:
            reply_sid = new_sid()
            keep(self.service.engine, person.number, RECEIVED, body, reply_sid, self.clock.now())
            self._reported(reply_sid, str(row))

    def _delivered(self, status_url: str, sid: str, _number: str) -> None:
        self._reported(sid, row_id_of(status_url.partition("?")[2]))

    def _reported(self, sid: str, row: str | None) -> None:
        apply_status(self.service, StatusReport(sid, REPORTS[-1], None, row))

    def _readings(self, person: Neighbour) -> str:
        """ "K1 31 28 26, K2 29 27 25": what the meter shows at every place that is followed."""
        home = self._household(person)
        if person.drying is None or home is None:
            return ""
        with reading(self.service.engine) as session:
            followed = select(PlaceRow).where(PlaceRow.household_id == home.id, col(PlaceRow.removed_at).is_(None))
            places = sorted(session.exec(followed), key=lambda place: place.label)
        days = (self.clock.now() - self._moment(person.first_check, EVENING)).total_seconds() / 86_400
        texts = []
        for index, place in enumerate(places):
            points = range(3 if place.kind == "bay" else 1)
            texts.append(" ".join([place.label, *(str(person.drying.at(days, index, point)) for point in points)]))
        return ", ".join(texts)

    def _work_until(self, moment: dt.datetime) -> None:
        """Does what falls due, each at its time."""
        while (due := self._next_due()) is not None and due <= moment:
            self._set_clock(due)
            if not self.worker.work_once():
                return

    def _next_due(self) -> dt.datetime | None:
        with reading(self.service.engine) as session:
            return session.exec(select(func.min(Job.run_at)).where(Job.state == "ready")).one()

    def _set_clock(self, moment: dt.datetime) -> None:
        """Time only goes forward, and never beyond the present."""
        self.clock.at = min(max(self.clock.at, moment), self.present)

    def _asked(self, person: Neighbour) -> tuple[str, dict[str, str]]:
        """The state of the conversation, and the number of each answer that it offers."""
        with reading(self.service.engine) as session:
            query = select(Conversation).join(Contact, col(Contact.id) == col(Conversation.contact_id))
            found = session.exec(query.where(Contact.phone_key == self._key(person))).one()
        return found.state, {key: number for number, key, _ in found.asked.get("offers", ())}

    def _household(self, person: Neighbour) -> Household | None:
        with reading(self.service.engine) as session:
            query = (
                select(Household)
                .join(Conversation, col(Conversation.household_id) == col(Household.id))
                .join(Contact, col(Contact.id) == col(Conversation.contact_id))
            )
            return session.exec(query.where(Contact.phone_key == self._key(person))).first()

    def _key(self, person: Neighbour) -> str:
        return self.service.sealer.phone_key(person.number)

    @contextmanager
    def _as_agent(self, digits: str) -> Iterator[tuple[Session, SignedIn, Household]]:
        person = next(each for each in CAST if each.digits == digits)
        home = self._household(person)
        if home is None:
            raise LookupError(digits)
        with writing(self.service.engine) as session:
            office = self.service.county.office_of(home.area).id
            agent = session.exec(select(Agent).where(Agent.office == office).order_by(col(Agent.id))).first()
            if agent is None:
                raise LookupError("agent")
            yield session, SignedIn(agent, "", ""), session.get_one(Household, home.id)


def _is_due(home: Household, today: dt.date) -> bool:
    """A check has fallen due that was not done yet."""
    due, last = home.next_check_on, home.last_check_on
    return due is not None and due <= today and (last is None or last < due)
