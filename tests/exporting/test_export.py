"""A records request: one zip with a readme, streamed, harmless in a spreadsheet, numbers masked, in the audit."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlmodel import col, select
from typer.testing import CliRunner

from guide_service.cli import app
from guide_service.console import export_routes
from guide_service.database import writing
from guide_service.exporting import zipping
from guide_service.exporting.tables import TABLES
from guide_service.exporting.zipping import Wanted, exported
from guide_service.records import Audit, Contact, Household, HouseholdNote
from guide_service.wiring import Service
from tests.console.conftest import Desk, desk, quick_passwords  # noqa: F401  (fixtures)
from tests.console.rows import make_household, one_household
from tests.people import rows

Sheet = list[dict[str, str]]
REASON = "Request 12 of the records officer"


def opened(data: bytes) -> dict[str, Sheet]:
    """Each table of the zip by its name; the readme's lines as rows of one column."""
    found: dict[str, Sheet] = {}
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.testzip() is None
        for name in archive.namelist():
            text = archive.read(name).decode("utf-8-sig")
            lines = csv.DictReader(io.StringIO(text, newline=""))
            found[name] = [{"line": line} for line in text.splitlines()] if name.endswith(".txt") else list(lines)
    return found


@pytest.fixture
def seat(desk: Callable[..., Desk]) -> Desk:  # noqa: F811
    return desk("vega", None, coordinator=True)


def test_a_household_with_everything_behind_its_verdicts(service: Service, seat: Desk) -> None:
    home, _ = one_household(service)
    other, _ = one_household(service, "+12025550124")
    answer = seat.client.post(
        "/console/records/export", data={"csrf": seat.csrf(), "household": str(home), "reason": REASON}
    )
    assert answer.headers["content-type"] == "application/zip"
    assert answer.headers["content-disposition"] == f'attachment; filename="household-{home}.zip"'
    assert "content-length" not in answer.headers, "written while it is sent"
    found = opened(answer.content)
    assert set(found) == {table.name for table in TABLES} | {"readme.txt"}
    for name in ("readings.csv", "verdicts.csv", "checks.csv", "places.csv", "texts.csv", "needs.csv", "mold.csv"):
        assert found[name], name
        assert {row["household"] for row in found[name]} == {str(home)}, "of nobody else"
    assert len(found["readings.csv"]) == 27
    assert found["people.csv"][0]["phone"] == "...0123"
    assert "+1202555" not in str(found)
    readme = "\n".join(row["line"] for row in found["readme.txt"])
    assert "readings.csv: Every number as it was typed and as it was understood; none is overwritten." in readme
    assert "Rows: 27." in readme
    for table in TABLES:
        for name, _what, _fill in table.columns:
            assert f"  {name}" in readme
    (noted,) = rows(service, Audit, Audit.action == "export")
    assert (noted.household_id, noted.detail["numbers"], noted.detail["reason"]) == (home, "masked", REASON)
    assert str(other) not in str(found)


def test_whole_numbers_only_where_somebody_chose_so_and_it_is_written_down(service: Service, seat: Desk) -> None:
    home, _ = one_household(service)
    answer = seat.client.post(
        "/console/records/export", data={"csrf": seat.csrf(), "household": str(home), "reason": REASON, "numbers": "1"}
    )
    found = opened(answer.content)
    assert found["people.csv"][0]["phone"] == "'+12025550123", "defused: a spreadsheet would take + for a formula"
    (noted,) = rows(service, Audit, Audit.action == "export")
    assert noted.detail["numbers"] == "whole"


def test_no_cell_is_run_by_a_spreadsheet(service: Service) -> None:
    home, _ = one_household(service)
    evil = '=HYPERLINK("http://x","y")'
    with writing(service.engine) as session:
        session.get_one(Household, home).address = evil
        session.add(HouseholdNote(household_id=home, agent_id=1, body="\t@cmd|' /C calc'!A0", at=service.clock.now()))
    found = opened(b"".join(exported(service, Wanted(household=home))))
    assert found["households.csv"][0]["address"] == f"'{evil}"
    assert found["notes.csv"][0]["note"].startswith("'")
    for name, sheet in found.items():
        for row in sheet if name.endswith(".csv") else ():
            for cell in row.values():
                assert not cell.lstrip(" ").startswith(("=", "+", "-", "@")), (name, cell)


def test_an_area_comes_in_slices_and_only_the_area(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(zipping, "AT_ONCE", 2)
    monkeypatch.setattr(zipping, "CHUNK", 1)
    inside = []
    with writing(service.engine) as session:
        for number in range(5):
            inside.append(make_household(session, service, f"+1202555010{number}", "millrace")[0].id)
        make_household(session, service, "+12025550110", "upper_larkwater")
    parts = list(exported(service, Wanted(area="millrace")))
    assert len(parts) > 3, "it leaves in parts"
    found = opened(b"".join(parts))
    assert [row["household"] for row in found["households.csv"]] == [str(key) for key in sorted(inside)]
    assert len(found["people.csv"]) == 5


def test_a_request_needs_a_reason_and_a_file_that_is_there(service: Service, seat: Desk) -> None:
    home, _ = one_household(service)
    assert "Say for whom" in seat.do("/console/records/export", 422, household=str(home), reason="")
    assert "Choose an area" in seat.do("/console/records/export", 422, area="atlantis", reason="x")
    seat.do("/console/records/export", 404, household="999", reason="x")
    assert rows(service, Audit, Audit.action == "export") == []


def test_too_many_for_a_browser_are_for_the_command_line(
    service: Service, seat: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    one_household(service)
    monkeypatch.setattr(export_routes, "MOST_HOUSEHOLDS", 0)
    assert "with the command export" in seat.do("/console/records/export", 422, area="millrace", reason="x")


def test_a_number_that_is_gone_stays_gone(service: Service) -> None:
    """Of a phone that said STOP and whose file was deleted only the hash stands."""
    home, _ = one_household(service)
    with writing(service.engine) as session:
        contact = session.exec(select(Contact).where(col(Contact.last_digits) == "0123")).one()
        contact.phone_sealed, contact.key_id, contact.last_digits = b"", "", ""
    found = opened(b"".join(exported(service, Wanted(household=home, numbers=True))))
    assert found["people.csv"][0]["phone"] == ""


def test_the_command_line_takes_out_the_same(service: Service, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home, _ = one_household(service)
    monkeypatch.setenv("GUIDE_DEMO", "1")
    monkeypatch.setattr("guide_service.wiring.build_service", lambda _settings: service)
    out = tmp_path / "file.zip"
    run = CliRunner().invoke(app, ["export", "--household", str(home), "--out", str(out), "--why", REASON])
    assert run.exit_code == 0, run.output
    assert len(opened(out.read_bytes())["readings.csv"]) == 27
    (noted,) = rows(service, Audit, Audit.action == "export")
    assert noted.detail["by"] == "command line"
    again = CliRunner().invoke(app, ["export", "--area", "millrace", "--out", str(out), "--why", REASON])
    assert again.exit_code == 2, "nothing is overwritten"
    nowhere = ["export", "--area", "atlantis", "--out", str(tmp_path / "x.zip"), "--why", REASON]
    assert CliRunner().invoke(app, nowhere).exit_code == 2
