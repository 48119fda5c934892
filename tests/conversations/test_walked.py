"""Every transition of the flows that a text or a call can cause is walked by conversations over the carrier's webhooks,
in English and in Spanish. See ``walked``."""

from __future__ import annotations

import sys

import pytest
from sqlalchemy import Engine

from guide_service.carrier.recording import RecordingSender
from guide_service.clock import FixedClock
from guide_service.dialogue.flow_loader import load_flows
from guide_service.settings import FLOWS_DIR
from guide_service.wiring import Service
from tests.conversations.walked import LANGUAGES, NEVER_TAKEN, may_come_by_text, recorded, walking
from tests.dialogue.transitions import transitions_of
from tests.dialogue.typed import messages
from tests.turn.conftest import Phones


@pytest.fixture
def one_service(wired: Service, sqlite_engine: Engine, clock: FixedClock, sender: RecordingSender) -> Service:
    return wired.on(sqlite_engine, clock=clock, sender=sender)


def caused_by_a_text() -> set[str]:
    return {name for name, _transition in transitions_of(load_flows(FLOWS_DIR)) if may_come_by_text(name)}


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_flows_are_walked_whole(language: str, capsys: pytest.CaptureFixture[str]) -> None:
    wanted, walked = caused_by_a_text(), recorded()[language].keys()
    with capsys.disabled():
        sys.stdout.write(f"\nof {len(wanted)} transitions walked in {language}: {len(wanted & walked)}\n")
    assert sorted(wanted - walked) == sorted(NEVER_TAKEN)
    assert sorted(walked - wanted) == []


def test_nothing_that_is_texted_after_stop_meets_the_state_of_it(one_service: Service) -> None:
    """That no text takes "stopped on *". What a caller may still say is in ``tests.calls``."""
    phones, heard = Phones(one_service), [texts[0] for texts in messages("en").values()]
    phones.say("hello")
    with walking(one_service.flows) as walked:
        for text in ("stop", *(each for one in heard for each in (one, "stop"))):
            phones.say(text)
    assert len(heard) > 40
    assert ("en", "anywhere stop") in walked
    assert ("en", "stopped on *") not in walked
