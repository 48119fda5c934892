"""Where a script is played: phones over the carrier's webhooks, the worker, an agent at the pages, a settable clock."""

from __future__ import annotations

import datetime as dt
import re
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import func
from sqlmodel import SQLModel, col, select

from guide_service import jobs
from guide_service.app import create_app
from guide_service.carrier.recording import RecordingSender
from guide_service.carrier.sender import SentText
from guide_service.carrier.signature import sign
from guide_service.clock import FixedClock
from guide_service.database import reading, writing
from guide_service.followup import silence
from guide_service.followup.quiet_hours import reminder_time
from guide_service.handset.carrier_side import replies
from guide_service.records import Contact, Conversation, Household, Job, Membership, Message
from guide_service.turning import deciding, storing
from guide_service.wiring import Service
from guide_service.wording.template import pieces
from tests.console.conftest import Desk
from tests.console.rows import make_agent
from tests.conversations.at_the_desk import AGENT_DOES
from tests.conversations.kept import KEPT
from tests.conversations.script import Script, Step, read_script
from tests.conversations.walked import settle, walking
from tests.people import work

NUMBERS = {"A": "+12025550123", "B": "+12025550124", "C": "+12025550125", "D": "+12025550126", "E": "+12025550127",
           "F": "+12025550128"}  # fmt: skip
BEGINNINGS = Path(__file__).with_name("beginnings")
_SPAN = re.compile(r"(\d+) (minute|hour|day)s?")
_BUSY = 400
"""Jobs that one instant may bring: more is a job that puts itself in line for ever."""


class Broken(AssertionError):
    """A line of a script that did not come true."""


class FaultOfOurs(RuntimeError):
    """Thrown into a turn."""


@dataclass
class Stage:
    service: Service
    script: Script
    heard: list[str] = field(default_factory=list)
    """The conversation so far, as it is printed when a line fails."""
    answer: str = ""
    """All texts of the last answer."""
    place: int = 0
    """How far the fragments of this answer were found."""
    started: dict[str, str] = field(default_factory=dict)
    """What was sent by the last wait or agent, by phone."""
    sent_place: dict[str, int] = field(default_factory=dict)
    form: dict[str, str] = field(default_factory=dict)
    more_fields: dict[str, str] = field(default_factory=dict)
    fault: str | None = None
    begun: bool = False
    """The database holds what the script begins after."""

    def __post_init__(self) -> None:
        self.client = TestClient(create_app(self.service))
        clock, sender = self.service.clock, self.service.sender
        assert isinstance(clock, FixedClock)
        assert isinstance(sender, RecordingSender)
        self.clock, self.sender = clock, sender

    def play(self) -> None:
        with self.client, walking(self.service.flows) as walked:
            self.steps_of(self.script)
        missed = settle(self.script.path.stem, walked)
        if missed:
            raise Broken(f"{self.script.path.name} no longer takes {missed}: python -m tests.conversations.walked")
        for fragment in self.script.never:
            said = [body for body in self.everything_said() if fragment.casefold() in body.casefold()]
            if said:
                raise Broken(f"{self.script.path.name}: {fragment!r} must never be said, but: {said[0]}")

    def steps_of(self, script: Script) -> None:
        if script.beginning and not self.begun:
            self.steps_of(beginning_of(script))
        for step in script.steps:
            problem = STEPS[step.verb](self, step)
            if problem:
                raise Broken(self.told(script, step, problem))

    def told(self, script: Script, step: Step, problem: str) -> str:
        """The conversation so far, and under it the line that failed."""
        talk = "\n".join(self.heard[-60:])
        return f"{self.script.path.name}\n{talk}\n\n{script.path.name}:{step.line}: {problem}"

    # the carrier
    def post(self, form: dict[str, str]) -> str:
        url = f"{self.service.settings.address}/carrier/sms"
        signed = {"X-Twilio-Signature": sign(url, form.items(), self.service.settings.auth_token)}
        answer = self.client.post(url, data=form, headers=signed)
        if answer.status_code != 200:
            return f"[status {answer.status_code}]"
        return "\n".join(reply.body for reply in replies(answer.content))

    def text(self, step: Step) -> str | None:
        settings = self.service.settings
        body = step.text.encode().decode("unicode_escape") if "\\n" in step.text else step.text
        body = body.replace("{code}", self.code) if "{code}" in body else body
        self.form = {
            "MessageSid": f"SM{uuid.uuid4().hex}", "AccountSid": settings.account_sid, "From": NUMBERS[step.who],
            "To": settings.number, "Body": body, "NumMedia": "0", "NumSegments": "1", **self.more_fields,
        }  # fmt: skip
        self.more_fields = {}
        with self.faults():
            self.answer = self.post(self.form)
        self.place = 0
        self.heard.append(f"{step.who}> {step.text}")
        self.heard += [f"    < {line}" for line in self.answer.split("\n")] if self.answer else ["    (silence)"]
        return self.answer if self.answer.startswith("[status") else None

    @property
    def code(self) -> str:
        """The household code that was told last, as a person copies it."""
        lines = (line for line in reversed(self.heard) if "code" in line or "código" in line)
        told = (re.search(r"\b\d{3} \d{3}\b", line) for line in lines)
        return next(found.group() for found in told if found)

    @contextmanager
    def faults(self) -> Iterator[None]:
        with pytest.MonkeyPatch.context() as patch:
            if self.fault == "deciding":
                patch.setattr(deciding, "advance", _fault)
            if self.fault == "storing":
                patch.setattr(storing, "apply", _fault_once(storing.apply))
            self.fault = None
            yield

    def retry(self, _step: Step) -> str | None:
        before, answer = self.counted(), self.answer
        again = self.post(self.form)
        if again != answer:
            return f"the retried text was answered by {again!r}"
        changed = {name for name, count in self.counted().items() if count != before[name]}
        return f"the retried text changed {sorted(changed)}" if changed else None

    def counted(self) -> dict[str, Any]:
        """How many rows every table holds, and the households' versions."""
        tables = SQLModel.metadata.sorted_tables
        with reading(self.service.engine) as session:
            connection = session.connection()
            rows: dict[str, Any] = {
                t.name: connection.execute(select(func.count()).select_from(t)).scalar_one() for t in tables
            }
            rows["versions"] = list(session.exec(select(Household.version).order_by(col(Household.id))))
        return rows

    # the clock and the worker
    def set_clock(self, step: Step) -> None:
        local = dt.datetime.fromisoformat(step.text).replace(tzinfo=self.service.county.zone(None))
        self.pass_until(local.astimezone(dt.UTC)) if self.heard else setattr(self.clock, "at", local.astimezone(dt.UTC))

    def wait(self, step: Step) -> str | None:
        if step.text == "until the next check":
            return self.wait_for_check()
        spans = _SPAN.findall(step.text)
        if not spans:
            return "how long?"
        self.pass_until(self.clock.at + sum((dt.timedelta(**{f"{u}s": int(n)}) for n, u in spans), dt.timedelta()))
        return None

    def wait_for_check(self) -> str | None:
        """To the morning on which the first phone's household is reminded."""
        with reading(self.service.engine) as session:
            home = session.get_one(Household, self.house()[1])
        if home.next_check_on is None:
            return "no check is planned"
        zone, hours = self.service.county.zone(home.area), self.service.county.hours
        self.pass_until(reminder_time(home.next_check_on, zone, hours, home.facts))
        return None

    def pass_until(self, end: dt.datetime) -> None:
        before = len(self.sender.sent)
        self.run_worker()
        while (due := self.next_job()) is not None and due <= end:
            self.clock.at = max(due, self.clock.at)
            self.run_worker()
        self.clock.at = max(end, self.clock.at)
        self.run_worker()
        self.noted(before, f"--- {self.clock.at.astimezone(self.service.county.zone(None)):%a %Y-%m-%d %H:%M}")

    def run_worker(self) -> None:
        now = self.clock.at
        with writing(self.service.engine) as session:  # once a day, as a worker has it
            jobs.enqueue(session, silence.KIND, key=silence.KIND, payload={}, run_at=now, now=now, replace=False)
        done = work(self.service, at_most=_BUSY)
        assert done < _BUSY, f"{done} jobs at one instant"

    def next_job(self) -> dt.datetime | None:
        with reading(self.service.engine) as session:
            return session.exec(select(func.min(Job.run_at)).where(Job.state == "ready")).one()

    def noted(self, sent_before: int, line: str) -> None:
        """What went out since, by phone."""
        self.heard.append(line)
        self.started, self.sent_place = {}, {}
        for text in self.sender.sent[sent_before:]:
            who = next((name for name, number in NUMBERS.items() if number == text.to), None)
            if who is not None:
                self.started[who] = "\n".join(filter(None, (self.started.get(who), text.body)))
                self.heard += [f"    {who}< {line}" for line in text.body.split("\n")]

    # what must come back
    def expect(self, step: Step) -> str | None:
        found = self.answer.find(step.text, self.place)
        if found < 0:
            return f"the answer does not hold {step.text!r}" + (" in this order" if step.text in self.answer else "")
        self.place = found + len(step.text)
        return None

    def said(self, step: Step) -> str | None:
        """A message of the flows, by its id, in the language of the phone: its longest words stand in the answer."""
        with reading(self.service.engine) as session:
            language = self.contact(session, step.who).language if step.who in NUMBERS else step.who
        template = self.service.catalogues.text(language, step.text)
        words = max((part.strip() for part, _ in pieces(template, True)), key=len)
        return None if words in self.answer else f"{step.text} is not in the answer: {words!r}"

    def never(self, step: Step) -> str | None:
        return f"the answer holds {step.text!r}" if step.text.casefold() in self.answer.casefold() else None

    def silence(self, step: Step) -> str | None:
        with reading(self.service.engine) as session:
            row = session.exec(select(Message).where(Message.carrier_sid == self.form["MessageSid"])).one()
        if self.answer:
            return "there was an answer"
        return None if row.outcome_reason == step.text else f"silence for {row.outcome_reason!r}"

    def expect_sent(self, step: Step) -> str | None:
        said = self.started.get(step.who, "")
        found = said.find(step.text, self.sent_place.get(step.who, 0))
        if found < 0:
            return f"{step.text!r} was not sent to {step.who}, but {said!r}"
        self.sent_place[step.who] = found + len(step.text)
        return None

    def expect_nothing_sent(self, _step: Step) -> str | None:
        return f"this was sent: {self.started}" if self.started else None

    def everything_said(self) -> list[str]:
        with reading(self.service.engine) as session:
            return [row.body or "" for row in session.exec(select(Message).where(Message.direction == "out"))]

    # people of one household, agents, records
    def live_together(self, step: Step) -> None:
        """The second phone is a member of the first one's household."""
        now = self.service.clock.now()
        with writing(self.service.engine) as session:
            mine, other = (self.contact(session, name) for name in (step.text, step.who))
            house = session.exec(select(Membership).where(Membership.contact_id == mine.id)).one().household_id
            old = session.exec(select(Membership).where(Membership.contact_id == other.id)).one()
            talk = session.exec(select(Conversation).where(Conversation.contact_id == other.id)).one()
            old.ended_at = now
            session.add(Membership(contact_id=other.id, household_id=house, role="resident", joined_at=now))
            stored = {"state": talk.state, "slots": talk.slots, "asked": talk.asked}
            session.add(Conversation(contact_id=other.id, household_id=house, updated_at=now, **stored))

    def contact(self, session: Any, who: str) -> Contact:
        key = self.service.sealer.phone_key(NUMBERS[who])
        found = session.exec(select(Contact).where(Contact.phone_key == key)).one()
        assert isinstance(found, Contact)
        return found

    def desk(self) -> Desk:
        if not hasattr(self, "_desk"):
            make_agent(self.service, "rivera", None, coordinator=True)
            self._desk = Desk(self.service, "rivera")
        return self._desk

    def agent(self, step: Step) -> str | None:
        verb = next((verb for verb in AGENT_DOES if step.text.startswith(verb)), None)
        if verb is None:
            return f"an agent does {', '.join(AGENT_DOES)}"
        before = len(self.sender.sent)
        AGENT_DOES[verb](self.desk(), self.house, step.text.removeprefix(verb).strip(" :"))
        self.run_worker()
        self.noted(before, f"(agent {step.text})")
        return None

    def kept(self, step: Step) -> str | None:
        if step.text.startswith("clock "):
            local = f"{self.clock.at.astimezone(self.service.county.zone(None)):%H:%M}"
            return None if local == step.text.removeprefix("clock ") else f"it is {local}"
        name = next((name for name in KEPT if step.text.startswith(name)), None)
        if name is None:
            return f"kept: {', '.join(KEPT)}"
        with reading(self.service.engine) as session:
            return KEPT[name](session, self.contact(session, "A"), step.text.removeprefix(name).split())

    def undelivered(self, step: Step) -> None:
        who, code = step.text.split()
        text = next(text for text in reversed(self.sender.sent) if text.to == NUMBERS[who])
        self.report(text, "undelivered", ErrorCode=code)

    def report(self, text: SentText, status: str, **more: str) -> None:
        """What the carrier says became of a text."""
        assert text.status_callback
        settings = self.service.settings
        form = {"AccountSid": settings.account_sid, "MessageSid": text.sid, "MessageStatus": status, "To": text.to,
                "From": settings.number, **more}  # fmt: skip
        signed = {"X-Twilio-Signature": sign(text.status_callback, form.items(), settings.auth_token)}
        path = text.status_callback.removeprefix(settings.address)
        answer = self.client.post(path, data=form, headers=signed)
        assert answer.status_code == 204

    def add_fields(self, step: Step) -> None:
        self.more_fields = dict(pair.split("=", 1) for pair in step.text.split())

    def break_next(self, step: Step) -> str | None:
        self.fault = step.text
        return None if step.text in ("deciding", "storing") else "fails: deciding or storing"

    def house(self) -> tuple[int, int, int]:
        """Ids of the first phone's contact, household and conversation."""
        with reading(self.service.engine) as session:
            contact = self.contact(session, "A")
            talk = session.exec(select(Conversation).where(Conversation.contact_id == contact.id)).one()
        return contact.id, talk.household_id, talk.id


def beginning_of(script: Script) -> Script:
    return read_script(BEGINNINGS / f"{script.beginning}.txt")


def _fault(*_arguments: object, **_more: object) -> Any:
    raise FaultOfOurs


def _fault_once(honest: Callable[..., Any]) -> Callable[..., Any]:
    """The first storing of a turn fails after it has written something; the apology is stored by the honest one."""
    calls: list[None] = []

    def apply(*arguments: Any) -> Any:
        calls.append(None)
        honest(*arguments)
        if len(calls) == 1:
            raise FaultOfOurs

    return apply


STEPS: dict[str, Callable[[Stage, Step], str | None]] = {
    ">": Stage.text,
    "<": Stage.expect,
    "said": Stage.said,
    "never": Stage.never,
    "silence": Stage.silence,
    "at": Stage.set_clock,  # type: ignore[dict-item]
    "after": lambda _stage, _step: None,
    "languages": lambda _stage, _step: None,
    "on": lambda _stage, _step: None,
    "wait": Stage.wait,
    "sent": Stage.expect_sent,
    "nothing sent": Stage.expect_nothing_sent,
    "again": Stage.retry,
    "carrier": Stage.add_fields,  # type: ignore[dict-item]
    "fails": Stage.break_next,
    "agent": Stage.agent,
    "kept": Stage.kept,
    "undelivered": Stage.undelivered,  # type: ignore[dict-item]
    "lives with": Stage.live_together,  # type: ignore[dict-item]
}
