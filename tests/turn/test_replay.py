"""A stored conversation, replayed: against the flows it was made with, and against later ones with other states."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from sqlmodel import select

from guide_service.database import reading, writing
from guide_service.dialogue.flow_checks import KNOWN_STATES
from guide_service.dialogue.flow_loader import load_flows
from guide_service.records import Conversation, Message
from guide_service.settings import FLOWS_DIR
from tests.turn.conftest import WEDNESDAY, Phones

NewPhones = Callable[[], Phones]
TALK: tuple[tuple[int, str], ...] = (
    (0, "water in basement what do I do"), (0, "1"), (0, "1"), (0, "1"), (0, "1"), (0, "12 Weir St"), (0, "skip"),
    (0, "places"), (0, "1"), (0, "kitchen"), (0, "3"), (0, "1 2"), (0, "plain wood"), (0, "2"), (0, "2"), (0, "1"),
    (0, "1"), (0, "skip"), (1, "K1 22 19 17"), (1, "1"), (2, "why"), (6, "readings"), (6, "1"), (6, "1"), (6, "20"),
    (6, "145"), (6, "18 17"), (6, "over 30"), (6, "done"), (7, "there is mold"), (7, "2"), (7, "back"), (7, "0"),
    (8, "flurb"), (8, "STOP"), (9, "hello"), (9, "START"), (9, "status"),
)  # fmt: skip
"""(days after the first text, text) of one household."""
STORED = Path(__file__).with_name("data") / "stored_conversation.json"
"""A conversation as an earlier version of the flows stored it, with where it stood after every text."""


@dataclass(frozen=True)
class Turn:
    at: dt.datetime
    text: str
    answer: tuple[str, ...]
    state: str
    slots: dict[str, Any]
    asked: dict[str, Any]


def talk(phones: Phones, texts: list[tuple[dt.datetime, str]]) -> list[Turn]:
    turns = []
    for at, text in texts:
        phones.clock.at = at
        answer = phones.say(text)
        stands = phones.conversation()
        assert stands is not None
        bodies = tuple(body for _, body in answer.texts)
        turns.append(Turn(at, text, bodies, stands.state, dict(stands.slots), dict(stands.asked)))
    return turns


def first(phones: Phones) -> list[Turn]:
    return talk(phones, [(WEDNESDAY + dt.timedelta(days=days), text) for days, text in TALK])


def stored_texts(phones: Phones) -> list[tuple[dt.datetime, str]]:
    rows = phones.rows(Message, Message.direction == "in")
    return [(row.at, row.body or "") for row in rows]


def test_a_replay_against_the_same_flows_is_the_same_conversation(new_phones: NewPhones) -> None:
    phones = new_phones()
    turns = first(phones)
    again = talk(new_phones(), stored_texts(phones))
    assert again == turns
    assert len({turn.state for turn in turns}) > 12


def test_the_flows_that_a_conversation_was_advanced_with_are_kept(new_phones: NewPhones) -> None:
    phones = new_phones()
    phones.say("hello")
    talk_ = phones.conversation()
    assert talk_ is not None
    assert talk_.flow_digest == phones.service.flows.digest


def later_flows(folder: Path, renamed: dict[str, str]) -> Path:
    """The flows of a later version, in which states have other names and the old ones name their successors."""
    shutil.copytree(FLOWS_DIR, folder)
    for path in folder.glob("*.yaml"):
        text = path.read_text(encoding="utf-8")
        for old, new in renamed.items():
            text = text.replace(f"\n  {old}:\n    ", f"\n  {new}:\n    ").replace(f"to: {old}", f"to: {new}")
        path.write_text(text, encoding="utf-8")
    successors = "".join(f"  {old}: {new}\n" for old, new in renamed.items())
    (folder / "later.yaml").write_text(f"flow: later\n\nreplaced:\n{successors}", encoding="utf-8")
    known = "".join(f"{state}\n" for state in [*load_flows(FLOWS_DIR).states, *renamed.values()])
    (folder / KNOWN_STATES).write_text(known, encoding="utf-8")
    return folder


def test_a_conversation_stored_in_a_state_that_is_gone_goes_on_in_its_successor(
    new_phones: NewPhones, tmp_path: Path
) -> None:
    renamed = {"check.point": "check.spot", "check.setting": "check.scale", "mould.size": "mould.area"}
    phones = new_phones()
    turns = first(phones)
    assert {turn.state for turn in turns} >= set(renamed)
    later = load_flows(later_flows(tmp_path / "flows", renamed))
    now = new_phones()
    for turn, (at, text) in zip(turns, stored_texts(phones), strict=True):
        now.clock.at = at
        answer = now.say(text)
        stands = now.conversation()
        assert stands is not None
        assert tuple(body for _, body in answer.texts) == turn.answer
        assert stands.state == renamed.get(turn.state, turn.state)
        # every second text the version changes under the conversation, to and fro
        now.service = replace(now.service, flows=later if now.service.flows is not later else now.service.flows)
    assert stands.flow_digest == later.digest


def test_a_conversation_that_an_earlier_version_stored_goes_on(new_phones: NewPhones) -> None:
    """From wherever it stood, with the question as it was sent, the next text finds an answer."""
    kept = json.loads(STORED.read_text(encoding="utf-8"))
    turns = kept["turns"]
    phones = new_phones()
    flows = phones.service.flows
    first(phones)
    if kept["digest"] == flows.digest:
        assert [turn.state for turn in talk(new_phones(), stored_texts(phones))] == [turn["state"] for turn in turns]
    phones.say("START")
    for turn, following in pairwise(turns):
        if turn["state"] == "stopped" or following["text"] in ("STOP", "START"):
            continue
        assert flows.resume(turn["state"]) in flows.states
        with writing(phones.service.engine) as session:
            row = session.exec(select(Conversation)).one()
            row.state, row.slots, row.asked = turn["state"], turn["slots"], turn["asked"]
            row.flow_digest = kept["digest"]
        answer = phones.say(following["text"])
        with reading(phones.service.engine) as session:
            text = session.get_one(Message, answer.message_id)
        assert (text.outcome, text.outcome_reason) == ("reply", None), following["text"]
        assert answer.texts


def test_the_stored_conversation_passes_through_many_states() -> None:
    turns = json.loads(STORED.read_text(encoding="utf-8"))["turns"]
    assert len({turn["state"] for turn in turns}) > 12
    assert len(turns) == len(TALK)
