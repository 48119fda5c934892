"""Successors or eventless transitions that never end are refused."""

from __future__ import annotations

from pathlib import Path

from tests.dialogue.test_flow_refusals import TALK, folder_with, refused


def test_successors_in_a_circle_are_refused(tmp_path: Path) -> None:
    error = refused(folder_with(tmp_path, TALK + "\nreplaced:\n  talk.one: talk.two\n  talk.two: talk.one\n"))
    assert "talk.one" in error.problem or "talk.two" in error.problem


def test_states_that_lead_on_for_ever_are_refused(tmp_path: Path) -> None:
    loop = "always: [{to: talk.round}]\n  talk.round:\n    always: [{to: talk.rest}]"
    error = refused(folder_with(tmp_path, TALK.replace("expect: nothing", loop)))
    assert error.file == "talk.yaml"
    assert "talk.rest" in error.problem or "talk.round" in error.problem
