"""Every conversation of this folder is played from its first text to its last, over the carrier's own webhooks."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from guide_service.carrier.recording import RecordingSender
from guide_service.clock import FixedClock
from guide_service.wiring import PolicyInForce, Service
from tests.conftest import MONDAY_NOON, _empty
from tests.conversations.script import NotAScript, Script, read_script
from tests.conversations.stage import Broken, Stage

SCRIPTS = [read_script(path) for path in sorted(Path(__file__).parent.glob("*.txt"))]
PLAYED = [pytest.param(s, database, id=f"{s.path.stem}-{database}") for s in SCRIPTS for database in s.databases]


def staged(script: Script, database: str, wired: Service, request: pytest.FixtureRequest) -> Stage:
    engine = request.getfixturevalue("sqlite_engine" if database == "sqlite" else "postgres_engine")
    if database == "postgres":
        _empty(engine)
    policies = PolicyInForce(engine, wired.county.first_policy())
    service = replace(wired, engine=engine, clock=FixedClock(MONDAY_NOON), sender=RecordingSender(), policies=policies)
    return Stage(service, script)


@pytest.mark.parametrize(("script", "database"), PLAYED)
def test_conversation(script: Script, database: str, wired: Service, request: pytest.FixtureRequest) -> None:
    staged(script, database, wired, request).play()


def written(folder: Path, text: str) -> Script:
    path = folder / "talk.txt"
    path.write_text(text, encoding="utf-8")
    return read_script(path)


def test_a_line_that_fails_is_shown_with_the_conversation(
    tmp_path: Path, wired: Service, request: pytest.FixtureRequest
) -> None:
    script = written(tmp_path, "at: 2026-05-20 11:00\n\n> hello\n< Larkwater County Extension\n< we sell boats\n")
    with pytest.raises(Broken) as broken:
        staged(script, "sqlite", wired, request).play()
    lines = str(broken.value).splitlines()
    assert "A> hello" in lines
    assert any("This is Larkwater County Extension" in line for line in lines)
    assert lines[-1] == "talk.txt:5: the answer does not hold 'we sell boats'"


def test_what_must_never_be_said_is_found_anywhere(
    tmp_path: Path, wired: Service, request: pytest.FixtureRequest
) -> None:
    script = written(tmp_path, "never: emergency service\n> hello\n< Larkwater\n")
    with pytest.raises(Broken, match="'emergency service' must never be said"):
        staged(script, "sqlite", wired, request).play()


@pytest.mark.parametrize("text", ["> hello\n", "> hello\n< a\nhe says nothing\n", "> hello\n< a\nwaits: 3 days\n"])
def test_a_file_that_is_no_script_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(NotAScript):
        written(tmp_path, text)
