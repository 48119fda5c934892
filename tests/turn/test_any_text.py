"""Anything may be texted by anybody at any time, again and in any order, while the clock moves and agents step in."""

from __future__ import annotations

import datetime as dt
import re
import shutil
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from sqlmodel import SQLModel, col, select

from guide_service.carrier.form import InboundText
from guide_service.console.takeover import hand_back, take_over
from guide_service.database import make_engine, reading, writing
from guide_service.drying.assess import assess
from guide_service.records import Escalation, Message, MouldReport
from guide_service.records.loading import load_by_phone
from guide_service.turn import take_turn
from guide_service.turning.keeping import Answer
from guide_service.turning.knowing import facts_of
from guide_service.wiring import Service
from tests.people import NUMBER, OTHER_NUMBER, work
from tests.turn.conftest import Phones, service_on
from tests.turn.said import people_text

NUMBERS = (NUMBER, OTHER_NUMBER)
ALL_CLEAR = re.compile("eets? the county's limit", re.IGNORECASE)
BEGINNING = (
    "HELLO", "1", "1", "1", "1", "skip", "places", "1", "kitchen", "2", "1 2", "2", "2", "2", "1", "1", "skip",
    "K1 12 11 11, K2 11 11 10", "1", "1",
)  # fmt: skip
"""A household well on its way, so that the rare answers come up."""


class Conversations(RuleBasedStateMachine):
    """Two phones, the carrier's retries, time, an agent; the promises hold after every step."""

    wired: Service
    template: Path
    begun: Path

    @initialize(far=st.booleans())
    def begin(self, far: bool) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="talk-"))
        path = self.folder / "guide.db"
        shutil.copyfile(self.begun if far else self.template, path)
        self.engine = make_engine(f"sqlite:///{path}")
        self.phones = Phones(service_on(self.wired, self.engine))
        self.answered: list[tuple[InboundText, Answer]] = []
        self.out = len(self.phones.texts_out())
        self.sent = 0

    def teardown(self) -> None:
        if hasattr(self, "engine"):
            self.engine.dispose()
            shutil.rmtree(self.folder)

    # what happens
    @rule(
        text=people_text,
        number=st.sampled_from(NUMBERS),
        picture=st.sampled_from([(), (), (), (("https://p.example/1", "image/png"),)]),
    )
    def someone_texts(self, text: str, number: str, picture: tuple[tuple[str, str], ...]) -> None:
        stopped = self.stopped(number)
        inbound = self.phones.inbound(text, number, media=picture)
        answer = take_turn(self.phones.service, inbound)
        self.answered.append((inbound, answer))
        self.one_outcome(inbound, answer)
        self.nothing_after_stop(number, stopped, answer)
        self.no_false_all_clear(number, answer)
        self.out = len(self.phones.texts_out())

    @precondition(lambda self: self.answered)
    @rule(data=st.data())
    def the_carrier_tries_again(self, data: st.DataObject) -> None:
        """Any earlier text, however late: the same answer, and nothing else."""
        inbound, answer = data.draw(st.sampled_from(self.answered))
        before = self.everything()
        again = take_turn(self.phones.service, inbound)
        assert (again.message_id, again.texts) == (answer.message_id, answer.texts)
        assert self.everything() == before

    @rule(hours=st.sampled_from([1, 20, 24 * 3, 24 * 16]))
    def time_passes(self, hours: int) -> None:
        stopped = {number: self.stopped(number) for number in NUMBERS}
        for _ in range(hours // 72 + 1):
            self.phones.clock.advance(hours=min(hours, 72))
            work(self.phones.service, at_most=30)
        for text in self.phones.sender.sent[self.sent :]:
            assert not stopped.get(text.to), f"sent to somebody who had stopped: {text.body}"
        self.sent = len(self.phones.sender.sent)
        self.out = len(self.phones.texts_out())

    @precondition(lambda self: self.phones.conversation() is not None)
    @rule(back=st.booleans())
    def an_agent_steps_in_or_out(self, back: bool) -> None:
        talk = self.phones.conversation()
        assert talk is not None
        with writing(self.engine) as session:
            if back:
                hand_back(session, talk.id)
            else:
                take_over(session, self.phones.service, talk.id, 1)

    # what must hold
    def one_outcome(self, inbound: InboundText, answer: Answer) -> None:
        (row,) = self.phones.rows(Message, Message.carrier_sid == inbound.sid)
        replies = self.phones.rows(Message, Message.reply_to == row.id)
        assert row.body == inbound.body
        assert row.outcome_reason != "failure", "the turn failed"
        assert [reply.body for reply in replies] == [body for _, body in answer.texts]
        assert (row.outcome == "reply") == bool(replies)
        assert row.outcome == "reply" or row.outcome_reason in SILENCES, f"silence for {row.outcome_reason}"
        assert all(body.strip() for _, body in answer.texts)

    def nothing_after_stop(self, number: str, stopped_before: bool, answer: Answer) -> None:
        if stopped_before and self.stopped(number):
            assert answer.texts == ()
            assert len(self.phones.texts_out()) == self.out

    def no_false_all_clear(self, number: str, answer: Answer) -> None:
        said = "\n".join(body for _, body in answer.texts)
        if not ALL_CLEAR.search(said) or re.search("not (yet|ready)", said):
            return
        with reading(self.engine) as session:
            known = load_by_phone(session.connection(), self.phones.service.sealer.phone_key(number))
        facts = facts_of(self.phones.service, known, self.phones.clock.now())
        walls = assess(
            facts.places, facts.walls, facts.readings, policy=facts.policy, air=facts.air,
            circumstances=facts.circumstances, today=facts.today,
        ).walls  # fmt: skip
        assert any(wall.ready for wall in walls), said
        assert not facts.circumstances.mould_open, said

    @invariant()
    def every_conversation_stands_somewhere(self) -> None:
        for number in NUMBERS:
            talk = self.phones.conversation(number)
            assert talk is None or talk.state in self.phones.service.flows.states

    @invariant()
    def mould_that_was_reported_waits_for_a_person(self) -> None:
        with reading(self.engine) as session:
            reported = set(session.exec(select(MouldReport.household_id).where(col(MouldReport.lifted_at).is_(None))))
            waits = select(Escalation.household_id).where(Escalation.reason == "mould", Escalation.state != "settled")
            assert reported <= set(session.exec(waits))

    @invariant()
    def every_text_has_one_outcome(self) -> None:
        rows = self.phones.rows(Message, Message.direction == "in")
        assert all(row.outcome in ("reply", "silence") for row in rows)

    def stopped(self, number: str) -> bool:
        contact = self.phones.contact(number)
        return contact is not None and contact.opted_out_at is not None

    def everything(self) -> dict[str, list[Any]]:
        with reading(self.engine) as session:
            tables = SQLModel.metadata.sorted_tables
            return {t.name: list(session.connection().execute(select(t).order_by(*t.primary_key))) for t in tables}


SILENCES = {"opted_out", "taken_over", "automatic", "carrier_answered", "no_return_address"}


@pytest.fixture(scope="module")
def begun(wired: Service, sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database in which the first phone's household has done its first check."""
    path = tmp_path_factory.mktemp("begun") / "guide.db"
    shutil.copyfile(sqlite_template, path)
    engine = make_engine(f"sqlite:///{path}")
    phones = Phones(service_on(wired, engine))
    phones.clock.at -= dt.timedelta(days=4)
    for text in BEGINNING:
        phones.say(text)
    engine.dispose()
    return path


def test_promises_hold_whatever_is_texted(wired: Service, sqlite_template: Path, begun: Path) -> None:
    class Here(Conversations):
        pass

    Here.wired, Here.template, Here.begun = replace(wired), sqlite_template, begun
    checked = settings(
        max_examples=20, stateful_step_count=25, deadline=None, suppress_health_check=list(HealthCheck),
        derandomize=True, database=None, phases=[Phase.explicit, Phase.generate],
    )  # fmt: skip
    run_state_machine_as_test(Here, settings=checked)
