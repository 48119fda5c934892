"""One episode: some days of some households, lived by processes that are killed, then held against the records."""

from __future__ import annotations

import datetime as dt
import math
import os
import random
import signal
import subprocess
import sys
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx
from sqlalchemy import Engine
from sqlmodel import col, select

from guide_service.carrier.recording import RecordingSender
from guide_service.carrier.signature import sign
from guide_service.clock import FixedClock
from guide_service.database import make_engine, reading, writing
from guide_service.handset.carrier_side import replies
from guide_service.records import DemoClock, Job, Message
from guide_service.records.migrating import migrate
from guide_service.settings import EXAMPLE_COUNTY, ROOT, read_settings
from guide_service.wiring import Service, build_service
from tests.kill.fake_carrier import FakeCarrier
from tests.kill.talks import DAYS, FOLLOW_UP, LEAST_READINGS, LEAST_STARTED, live_undisturbed, number_of, story
from tests.postgres import free_port

POSTERS = 3
ANSWER_WITHIN = 60.0
"""A carrier's retries end earlier; the machine of a test may be busy."""
IDLE_WITHIN = 120.0
KILL_A_TURN, KILL_A_SEND = 0.3, 0.5
"""How likely a turn or a send brings a kill, while kills are left."""


@dataclass
class Outcome:
    kills: dict[str, int] = field(default_factory=dict)
    texts: int = 0
    sends: int = 0
    doubled_unavoidably: int = 0
    problems: list[str] = field(default_factory=list)


class Crew:
    """The web process and the worker; who is killed is replaced at once."""

    def __init__(self, environment: dict[str, str], kills: int, chance: random.Random) -> None:
        self.kills, self.killed, self.chance = kills, {"web": 0, "work": 0}, chance
        self.allowed = 0
        """Kills up to now: every day has its share."""
        self._lock = threading.Lock()
        self._pids: dict[str, int] = {}
        words = [sys.executable, "-m", "tests.kill.nursery"]
        bare = {name: value for name, value in os.environ.items() if not name.startswith("GUIDE_")}
        pipes: dict[str, Any] = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
        self._nursery = subprocess.Popen(words, cwd=ROOT, env=bare | environment, **pipes)
        for role in self.killed:
            self._bear(role)

    def maybe_kill(self, role: str, likely: float, within: float = 0.0) -> None:
        """Kills now or within so many seconds, by chance, as long as kills are left."""
        if sum(self.killed.values()) < self.allowed and self.chance.random() < likely:
            delay = self.chance.random() * within
            threading.Timer(delay, self.kill, (role,)).start() if within else self.kill(role)

    def kill(self, role: str) -> None:
        with self._lock:
            # about half of the kills for each: many more turns are taken than texts are sent
            other = self.killed["work" if role == "web" else "web"]
            if sum(self.killed.values()) >= self.allowed or self.killed[role] > other + 1 + self.kills // 8:
                return
            os.kill(self._pids[role], signal.SIGKILL)
            self.killed[role] += 1
            self._bear(role)

    def _bear(self, role: str) -> None:
        assert self._nursery.stdin is not None
        assert self._nursery.stdout is not None
        self._nursery.stdin.write(f"{role}\n")
        self._nursery.stdin.flush()
        answered, _, pid = self._nursery.stdout.readline().partition(" ")
        if answered != role:
            raise RuntimeError("the processes could not be started")
        self._pids[role] = int(pid)

    def dismiss(self) -> None:
        with self._lock:
            self.allowed = 0
            for pid in self._pids.values():
                os.kill(pid, signal.SIGKILL)
            assert self._nursery.stdin is not None
            self._nursery.stdin.close()
            assert self._nursery.stdout is not None
            self._nursery.stdout.close()
            self._nursery.wait(timeout=20)


class Episode:
    def __init__(self, database_url: str, home: Path, *, households: int, kills: int, seed: int) -> None:
        self.database_url, self.home, self.households, self.kills = database_url, home, households, kills
        self.chance = random.Random(seed)
        self.seed = seed
        self.web_port = free_port()
        self.answers: dict[str, list[list[str]]] = {}
        """The replies of every 2xx answer, by sid."""
        self.outcome = Outcome()

    def run(self) -> Outcome:
        settings = read_settings(**{name[6:].lower(): value for name, value in self._environment(0).items()
                                    if name.startswith("GUIDE_")})  # fmt: skip
        self.settings = settings
        engine = make_engine(self.database_url)
        migrate(engine)
        with FakeCarrier(settings.account_sid, settings.auth_token, settings.number, self.seed) as carrier:
            self._set_clock(engine, DAYS[0].begins())
            crew = Crew(self._environment(carrier.port), self.kills, self.chance)
            carrier.about_to = lambda: crew.maybe_kill("work", KILL_A_SEND, within=0.02)
            try:
                self._live(engine, crew)
            finally:
                crew.dismiss()
            self.outcome.kills = crew.killed
            self._judge(engine, carrier)
        engine.dispose()
        return self.outcome

    def _environment(self, carrier_port: int) -> dict[str, str]:
        county = self.home / "county.toml"
        slow, fast = "segments_per_second = 1.0", "segments_per_second = 500.0"
        county.write_text(EXAMPLE_COUNTY.read_text().replace(slow, fast))
        return {
            "GUIDE_DATABASE_URL": self.database_url,
            "GUIDE_PUBLIC_URL": f"http://127.0.0.1:{self.web_port}",
            "GUIDE_CARRIER_ACCOUNT_SID": "AC" + "0" * 32,
            "GUIDE_CARRIER_AUTH_TOKEN": "token-of-the-kill-test",
            "GUIDE_CARRIER_NUMBER": "+12025550100",
            "GUIDE_SECRET_KEY": "only-for-the-kill-test-0123456789abcdef",
            "GUIDE_COUNTY_FILE": str(county),
            "KILL_CARRIER_PORT": str(carrier_port),
            "KILL_WEB_PORT": str(self.web_port),
            "OPENBLAS_NUM_THREADS": "1",
        }

    # living
    def _live(self, engine: Engine, crew: Crew) -> None:
        for number, day in enumerate(DAYS, start=1):
            crew.allowed = math.ceil(self.kills * number / len(DAYS))
            self._set_clock(engine, day.begins())
            self._until_idle(engine, crew)
            households = list(range(1, self.households))
            threads = [
                threading.Thread(target=self._post_all, args=(crew, day, households[first::POSTERS]))
                for first in range(POSTERS)
            ]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            self._until_idle(engine, crew)

    def _post_all(self, crew: Crew, day: Any, households: list[int]) -> None:
        with httpx.Client(timeout=10) as http:
            for household in households:
                for place, text in enumerate(day.texts_of(household)):
                    sid = f"SM{household:04x}{day.offset:04x}{place:024x}"
                    crew.maybe_kill("web", KILL_A_TURN, within=0.03)
                    self._post(http, number_of(household), text, sid)
                    if self.chance.random() < 0.1:  # the carrier repeats one that it thinks was lost
                        self._post(http, number_of(household), text, sid)

    def _post(self, http: httpx.Client, number: str, text: str, sid: str) -> None:
        """A signed webhook, again until it is answered, as the carrier is asked to (#rc=5&rp=all)."""
        settings = self.settings
        url = f"{settings.address}/carrier/sms"
        form = {"MessageSid": sid, "AccountSid": settings.account_sid, "From": number, "To": settings.number}
        form |= {"Body": text, "NumMedia": "0", "NumSegments": "1"}
        signature = sign(url, form.items(), settings.auth_token)
        until = time.monotonic() + ANSWER_WITHIN
        while time.monotonic() < until:
            try:
                answer = http.post(url, data=form, headers={"X-Twilio-Signature": signature})
            except httpx.HTTPError:
                time.sleep(0.05)
                continue
            if answer.status_code == 200:
                self.answers.setdefault(sid, []).append([reply.body for reply in replies(answer.content)])
                return
            self.outcome.problems.append(f"webhook {sid} was answered {answer.status_code}")
            time.sleep(0.05)
        self.outcome.problems.append(f"webhook {sid} was never answered")

    def _until_idle(self, engine: Engine, crew: Crew) -> None:
        until = time.monotonic() + IDLE_WITHIN
        while self._is_busy(engine):
            if time.monotonic() > until:
                self.outcome.problems.append("the follow-up did not come to rest")
                return
            crew.maybe_kill("work", 0.1)
            time.sleep(0.1)
            self._move_clock(engine, 10)

    def _is_busy(self, engine: Engine) -> bool:
        with reading(engine) as session:
            ahead = session.get_one(DemoClock, 1).ahead_seconds
            soon = dt.datetime.now(dt.UTC) + dt.timedelta(seconds=ahead + 3_600)
            live = col(Job.state).in_(("ready", "running")) & col(Job.kind).in_(FOLLOW_UP)
            return session.exec(select(Job.id).where(live, col(Job.run_at) <= soon)).first() is not None

    def _set_clock(self, engine: Engine, to: dt.datetime) -> None:
        with writing(engine) as session:
            row = session.get(DemoClock, 1) or DemoClock(id=1)
            row.ahead_seconds = int((to - dt.datetime.now(dt.UTC)).total_seconds())
            session.add(row)

    def _move_clock(self, engine: Engine, seconds: int) -> None:
        with writing(engine) as session:
            session.get_one(DemoClock, 1).ahead_seconds += seconds

    # judging
    def _judge(self, engine: Engine, carrier: FakeCarrier) -> None:
        outcome = self.outcome
        outcome.texts, outcome.sends = len(self.answers), len(carrier.sent)
        outcome.doubled_unavoidably, twice = carrier.texted_twice()
        outcome.problems += twice
        outcome.problems += self._lost_texts(engine) + self._unsettled(engine, carrier) + self._other_stories(engine)

    def _lost_texts(self, engine: Engine) -> list[str]:
        """Every text answered 2xx has one row with an outcome, and its replies are what was answered, every time."""
        found = []
        with reading(engine) as session:
            for sid, given in self.answers.items():
                row = session.exec(select(Message).where(Message.carrier_sid == sid)).one_or_none()
                if row is None or row.outcome is None:
                    found.append(f"{sid} was answered and is not stored with an outcome")
                    continue
                said = session.exec(select(Message.body).where(Message.reply_to == row.id).order_by(col(Message.id)))
                if any(answer != list(said_again) for said_again in [list(said)] for answer in given):
                    found.append(f"{sid} was not answered with what is stored")
        return found

    def _unsettled(self, engine: Engine, carrier: FakeCarrier) -> list[str]:
        """Every text that was started went out, and nothing went out that was not started."""
        with reading(engine) as session:
            rows = session.exec(select(Message).where(Message.direction == "out", Message.origin != "reply")).all()
        known, out = {str(row.id) for row in rows}, {sent.row for sent in carrier.sent}
        stuck = [f"row {row.id} ({row.origin}) ended as {row.status}" for row in rows if row.carrier_sid is None]
        unsent = [f"row {row} was never sent" for row in known - out]
        return stuck + unsent + [f"row {row} was sent and is not stored" for row in out - known]

    def _other_stories(self, engine: Engine) -> list[str]:
        plain = self._undisturbed()
        found = []
        for household in range(1, self.households):
            number = number_of(household)
            expected, lived = story(plain.engine, plain, number), story(engine, plain, number)
            if sum(expected.readings.values()) < LEAST_READINGS:
                found.append(f"{number} sent too few readings to prove anything")
            if sum(origin == "started" for _, origin, _ in expected.texts.elements()) < LEAST_STARTED[household % 2]:
                found.append(f"{number} was reminded too seldom to prove anything")
            found += [f"{number}: {difference}" for difference in lived.differs(expected)]
        plain.engine.dispose()
        return found

    def _undisturbed(self) -> Service:
        settings = self.settings.model_copy(update={"database_url": None})
        engine = make_engine(f"sqlite:///{self.home / 'undisturbed.db'}")
        migrate(engine)
        service = build_service(settings, clock=FixedClock(DAYS[0].begins()), sender=RecordingSender())
        service = service.on(engine)
        live_undisturbed(service, self.households)
        return service
