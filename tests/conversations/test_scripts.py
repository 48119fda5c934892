"""Every conversation of this folder is played from its first text to its last, over the carrier's own webhooks."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine

from guide_service.database import make_engine
from guide_service.wiring import Service
from tests.conftest import MONDAY_NOON, _empty
from tests.conversations.noting import noted
from tests.conversations.script import SIDES, NotAScript, Script, read_script
from tests.conversations.stage import Broken, Stage, beginning_of
from tests.turn.conftest import service_on

HERE = Path(__file__).parent
SCRIPTS = [
    *(read_script(path) for path in sorted(HERE.glob("*.txt"))),
    *(read_script(path, side) for path in sorted((HERE / "both").glob("*.txt")) for side in range(len(SIDES))),
]
PLAYED = [pytest.param(s, database, id=f"{s.path.stem}-{database}") for s in SCRIPTS for database in s.databases]


class Beginnings:
    """What scripts begin after, played once and then copied: a database file, the hour and the talk so far."""

    def __init__(self, wired: Service, empty: Path, folder: Path) -> None:
        self.wired, self.empty, self.folder = wired, empty, folder
        self.made: dict[str, tuple[Path, dt.datetime, list[str]]] = {}

    def stage(self, script: Script, path: Path) -> Stage:
        """A stage on a new file at ``path`` that holds what the script begins after."""
        source, at, heard = self.empty, MONDAY_NOON, []
        if script.beginning:
            source, at, heard = self.after(beginning_of(script))
        shutil.copyfile(source, path)
        engine = make_engine(f"sqlite:///{path}")
        stage = Stage(service_on(self.wired, engine, at, script.languages), script, begun=True)
        stage.heard = list(heard)
        return stage

    def after(self, beginning: Script) -> tuple[Path, dt.datetime, list[str]]:
        name = beginning.path.stem
        if name not in self.made:
            path = self.folder / f"{name}.db"
            stage = self.stage(beginning, path)
            stage.play()
            stage.service.engine.dispose()
            self.made[name] = (path, stage.clock.at, stage.heard)
        return self.made[name]


@pytest.fixture(scope="session")
def beginnings(wired: Service, sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Beginnings:
    return Beginnings(wired, sqlite_template, tmp_path_factory.mktemp("beginnings"))


@pytest.fixture
def staged(
    request: pytest.FixtureRequest, wired: Service, beginnings: Beginnings, tmp_path: Path
) -> Iterator[Callable[..., Stage]]:
    """Sets the stage for a script on one of the two databases."""
    engines: list[Engine] = []

    def stage(script: Script, database: str = "sqlite") -> Stage:
        if database == "sqlite":
            made = beginnings.stage(script, tmp_path / "guide.db")
            engines.append(made.service.engine)
            return made
        engine = request.getfixturevalue("postgres_engine")
        _empty(engine)
        return Stage(service_on(wired, engine, MONDAY_NOON, script.languages), script)

    yield stage
    for engine in engines:
        engine.dispose()


@pytest.mark.parametrize(("script", "database"), PLAYED)
def test_conversation(script: Script, database: str, staged: Callable[..., Stage]) -> None:
    staged(script, database).play()


def written(folder: Path, text: str) -> Script:
    path = folder / "talk.txt"
    path.write_text(text, encoding="utf-8")
    return read_script(path)


def test_a_line_that_fails_is_shown_with_the_conversation(tmp_path: Path, staged: Callable[..., Stage]) -> None:
    script = written(tmp_path, "at: 2026-05-20 11:00\n\n> hello\n< Larkwater County Extension\n< we sell boats\n")
    with pytest.raises(Broken) as broken:
        staged(script).play()
    lines = str(broken.value).splitlines()
    assert "A> hello" in lines
    assert any("This is Larkwater County Extension" in line for line in lines)
    assert lines[-1] == "talk.txt:5: the answer does not hold 'we sell boats'"


def test_what_must_never_be_said_is_found_anywhere(tmp_path: Path, staged: Callable[..., Stage]) -> None:
    script = written(tmp_path, "never: emergency service\n> hello\n< Larkwater\n")
    with pytest.raises(Broken, match="'emergency service' must never be said"):
        staged(script).play()


def test_both_sides_are_noted_for_the_translators(tmp_path: Path, staged: Callable[..., Stage]) -> None:
    with noted() as talk:
        staged(written(tmp_path, "> hello\n< Larkwater\n")).play()
    typed, said = talk
    assert typed == {"typed": "hello"}
    assert "welcome.intro" in [say["id"] for say in said["says"]]


@pytest.mark.parametrize("text", ["> hello\n", "> hello\n< a\nhe says nothing\n", "> hello\n< a\nwaits: 3 days\n"])
def test_a_file_that_is_no_script_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(NotAScript):
        written(tmp_path, text)
