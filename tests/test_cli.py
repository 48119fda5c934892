"""The commands, as typed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from sqlmodel import select
from typer.testing import CliRunner

from guide_service import settings
from guide_service.cli import app, at_port
from guide_service.console.passwords import matches
from guide_service.console.sign_in import may_enter
from guide_service.database import make_engine, reading
from guide_service.records import Agent
from guide_service.records.migrating import is_current
from guide_service.settings import ROOT, read_settings

COMMANDS = ("serve", "work", "demo", "phone", "migrate", "flows", "locales", "agents", "paper")
runner = CliRunner()


@pytest.fixture
def database(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    url = f"sqlite:///{tmp_path}/guide.db"
    monkeypatch.setenv("GUIDE_DEMO", "1")
    monkeypatch.setenv("GUIDE_DATABASE_URL", url)
    settings.get_settings.cache_clear()
    assert runner.invoke(app, ["migrate"]).exit_code == 0
    return url


@pytest.fixture(autouse=True)
def fresh_settings() -> None:
    settings.get_settings.cache_clear()


@pytest.fixture
def password_file(tmp_path: Path) -> str:
    path = tmp_path / "password"
    path.write_text("nine geese on the weir\n", encoding="utf-8")
    return str(path)


def typed(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    clean = {name: value for name, value in os.environ.items() if not name.startswith("GUIDE_")}
    return subprocess.run(
        [sys.executable, "-m", "guide_service", *words],
        cwd=ROOT,
        env={**clean, **environment, "COLUMNS": "120"},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def agents(url: str) -> list[Agent]:
    with reading(make_engine(url)) as session:
        return list(session.exec(select(Agent)))


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself_with_an_example(command: str) -> None:
    result = runner.invoke(app, [command, "--help"])
    assert result.exit_code == 0
    shown = result.output
    if command in ("agents", "locales"):
        shown += "".join(runner.invoke(app, [command, part, "--help"]).output for part in ("add", "list", "extract"))
    assert "Example" in shown


def test_help_lists_every_command() -> None:
    shown = runner.invoke(app, ["--help"]).output
    assert all(command in shown for command in COMMANDS)


def test_a_missing_setting_is_one_clear_line() -> None:
    result = typed("serve")
    assert result.returncode == 2
    assert len(result.stderr.splitlines()) == 1
    assert result.stderr.startswith("guide_service: missing: GUIDE_DATABASE_URL, GUIDE_PUBLIC_URL")
    assert "GUIDE_DEMO=1" in result.stderr


def test_a_wrong_setting_is_one_clear_line() -> None:
    result = typed("migrate", GUIDE_DEMO="1", GUIDE_CARRIER_NUMBER="0199")
    assert (result.returncode, result.stderr) == (
        2,
        "guide_service: GUIDE_CARRIER_NUMBER must be a number such as +12025550100\n",
    )


def test_a_database_that_is_not_there_is_one_clear_line(tmp_path: Path) -> None:
    result = typed("agents", "list", GUIDE_DEMO="1", GUIDE_DATABASE_URL=f"sqlite:///{tmp_path}/none/guide.db")
    assert (result.returncode, result.stderr) == (
        1,
        "guide_service: the database of GUIDE_DATABASE_URL: unable to open database file (has migrate been run?)\n",
    )


def test_migrate_makes_the_folder_too(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path}/new/guide.db"
    assert typed("migrate", GUIDE_DEMO="1", GUIDE_DATABASE_URL=url).returncode == 0
    assert is_current(make_engine(url))


def test_migrate_makes_the_database_and_may_be_repeated(database: str) -> None:
    assert runner.invoke(app, ["migrate"]).output == "The database is up to date.\n"
    assert is_current(make_engine(database))


def test_an_agent_is_added_listed_changed_and_disabled(database: str, password_file: str) -> None:
    add = ["agents", "add", "Rivera", "--name", "Ana Rivera", "--password-file", password_file]
    assert runner.invoke(app, [*add, "--office", "millrace"]).exit_code == 0
    (agent,) = agents(database)
    assert (agent.login, agent.office, agent.role) == ("rivera", "millrace", "agent")
    assert matches("nine geese on the weir", agent.password_hash)
    assert "Ana Rivera" in runner.invoke(app, ["agents", "list"]).output
    runner.invoke(app, [*add, "--coordinator", "--days", "30"])
    (agent,) = agents(database)
    assert (agent.office, agent.role) == (None, "coordinator")
    assert agent.expires_at is not None
    assert may_enter(agent)
    assert runner.invoke(app, ["agents", "disable", "rivera"]).exit_code == 0
    assert not may_enter(agents(database)[0])


def test_the_password_is_asked_for_twice_when_no_file_holds_it(database: str) -> None:
    words = "nine geese on the weir\n"
    add = ["agents", "add", "holt", "--name", "Ben Holt", "--office", "upper"]
    result = runner.invoke(app, add, input=words + words)
    assert result.exit_code == 0, result.output
    assert "nine geese" not in result.output


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("x", "--office", "millrace"), "a login has 2 to 60"),
        (("holt", "--office", "nowhere"), "millrace, upper"),
        (("holt",), "--coordinator"),
    ],
)
def test_an_account_that_will_not_do_is_refused(
    database: str, password_file: str, words: tuple[str, ...], says: str
) -> None:
    result = runner.invoke(app, ["agents", "add", *words, "--name", "N", "--password-file", password_file])
    assert result.exit_code == 1
    assert says in result.output
    assert agents(database) == []


@pytest.mark.parametrize("password", ["short", "holt holt holt holt", "aaaaaaaaaaaaaaaa"])
def test_a_password_that_is_easy_to_guess_is_refused(database: str, tmp_path: Path, password: str) -> None:
    path = tmp_path / "weak"
    path.write_text(password, encoding="utf-8")
    add = ["agents", "add", "holt", "--name", "Ben Holt", "--office", "upper", "--password-file", str(path)]
    assert runner.invoke(app, add).exit_code == 1
    assert agents(database) == []


def test_disabling_nobody_is_told(database: str) -> None:
    result = runner.invoke(app, ["agents", "disable", "ghost"])
    assert (result.exit_code, "there is no account 'ghost'" in result.output) == (1, True)


def test_the_flows_are_checked() -> None:
    result = runner.invoke(app, ["flows"])
    assert result.exit_code == 0, result.output
    assert result.output.strip().endswith("messages in order.")


def test_a_flow_is_drawn_from_its_own_states() -> None:
    drawn = runner.invoke(app, ["flows", "--draw", "meter"]).output
    assert drawn.startswith('digraph "meter" {')
    assert '"meter.have" -> "meter.kind" [label="have"];' in drawn
    assert '"home.rest" [style="rounded,dashed"];' in drawn
    assert drawn.count("{") == drawn.count("}") == 1


def test_a_flow_that_is_none_is_told_with_those_there_are() -> None:
    result = runner.invoke(app, ["flows", "--draw", "nothing"])
    assert result.exit_code == 1
    assert "there is no flow 'nothing'; there are: " in result.output
    assert "welcome" in result.output


def test_a_phone_without_a_service_says_so_in_one_line() -> None:
    result = typed("phone", "--address", "http://127.0.0.1:9")
    assert result.returncode == 1
    assert result.stderr == "the service does not answer (ConnectError); is it running?\n"


def test_in_the_demo_the_service_is_known_by_where_it_listens() -> None:
    demo = read_settings(demo=True)
    assert at_port(demo, "0.0.0.0", 8010).address == "http://127.0.0.1:8010"
    known = read_settings(demo=True, public_url="https://guide.larkwater.example/")
    assert at_port(known, "127.0.0.1", 8010).address == "https://guide.larkwater.example"


def test_a_surge_account_of_any_role_ends_after_its_last_day(database: str, password_file: str) -> None:
    add = ["agents", "add", "walker", "--name", "Lee Ward", "--password-file", password_file]
    assert (
        runner.invoke(app, [*add, "--role", "volunteer", "--office", "millrace", "--expires", "2999-06-30"]).exit_code
        == 0
    )
    (agent,) = agents(database)
    assert (agent.role, agent.office) == ("volunteer", "millrace")
    assert agent.expires_at is not None
    assert agent.expires_at.isoformat() == "2999-07-01T04:00:00+00:00", "the end of that day in the county"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--role", "volunteer"), "--office"),
        (("--role", "guest", "--office", "millrace"), "Invalid value"),
        (("--office", "millrace", "--expires", "2020-01-01"), "is over"),
        (("--office", "millrace", "--expires", "2999-01-01", "--days", "3"), "either --days or --expires"),
    ],
)
def test_a_role_or_an_end_that_will_not_do_is_refused(
    database: str, password_file: str, words: tuple[str, ...], says: str
) -> None:
    result = runner.invoke(app, ["agents", "add", "holt", "--name", "N", "--password-file", password_file, *words])
    assert result.exit_code != 0
    assert says in result.output
    assert agents(database) == []


def test_a_translator_needs_no_office(database: str, password_file: str) -> None:
    add = ["agents", "add", "words", "--name", "Mara Linden", "--role", "translator", "--password-file", password_file]
    assert runner.invoke(app, add).exit_code == 0
    assert (agents(database)[0].role, agents(database)[0].office) == ("translator", None)


def test_the_second_factor_of_a_lost_phone_is_reset(database: str, password_file: str) -> None:
    add = ["agents", "add", "holt", "--name", "Ben Holt", "--office", "upper", "--password-file", password_file]
    runner.invoke(app, add)
    assert runner.invoke(app, ["agents", "reset-second-factor", "holt"]).exit_code == 0
    assert runner.invoke(app, ["agents", "reset-second-factor", "ghost"]).exit_code == 1
