"""More that the loader refuses: what would silently win over something else, or be silently left out."""

from __future__ import annotations

from pathlib import Path

import pytest

from guide_service.dialogue.flow_loader import load_flows
from tests.dialogue.test_flow_refusals import ANYWHERE, TALK, folder_with, refused


@pytest.mark.parametrize(
    ("more", "line", "names"),
    [
        ("flow: more\nanywhere:\n  person: {to: same}\n", 3, "person"),
        ("flow: more\ninitial: talk.rest\n", 2, "initial"),
    ],
)
def test_what_stands_in_two_files_is_refused(tmp_path: Path, more: str, line: int, names: str) -> None:
    error = refused(folder_with(tmp_path, zmore=more))
    assert (error.file, error.line) == ("zmore.yaml", line)
    assert names in error.problem


def test_a_successor_of_two_files_is_refused(tmp_path: Path) -> None:
    more = "flow: more\nreplaced:\n  talk.chat: talk.hello\n"
    error = refused(folder_with(tmp_path, TALK + "\nreplaced:\n  talk.chat: talk.rest\n", zmore=more))
    assert (error.file, error.line) == ("zmore.yaml", 3)


@pytest.mark.parametrize("key", ["to: talk.rest", "if: renting"])
def test_an_entry_that_leads_on_is_refused(tmp_path: Path, key: str) -> None:
    text = TALK.replace("expect: nothing", f"expect: nothing\n    enter: {{do: [miss], {key}}}")
    error = refused(folder_with(tmp_path, text))
    assert "enter" in text.splitlines()[error.line - 1]


def test_a_wrong_successor_is_refused_at_its_line(tmp_path: Path) -> None:
    text = TALK + "\nreplaced:\n  talk.chat: talk.nowhere\n"
    error = refused(folder_with(tmp_path, text))
    assert (error.file, error.line) == ("talk.yaml", len(text.splitlines()))


def test_anywhere_may_be_written_in_parts(tmp_path: Path) -> None:
    parts = ANYWHERE.replace("  repeat: {to: same}\n", "")
    more = "flow: more\nanywhere:\n  repeat: {to: same}\n"
    assert "repeat" in load_flows(folder_with(tmp_path, anywhere=parts, zmore=more)).anywhere
