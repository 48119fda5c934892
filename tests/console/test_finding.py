"""Finding: words, numbers, lists, areas, pages by key, and files that no spreadsheet runs."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Callable

import pytest
from sqlalchemy import event
from sqlmodel import col, select

from guide_service.console import finding as finding_module
from guide_service.database import reading, writing
from guide_service.exporting.csv_lines import defused
from guide_service.records import Audit, Membership
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import fill_house, make_household


def put(service: Service, number: int, area: str | None = "millrace", **values: object) -> int:
    values = {"address": f"{number} Weir Street", "language": "en"} | values
    with writing(service.engine) as session:
        home, _, _ = make_household(session, service, f"+12025550{100 + number}", area, **values)
    return home.id


def found(page: str) -> list[str]:
    return re.findall(r'<th scope="row"><a href="/console/households/\d+">(.*?)</a>', page)


def test_words_find_addresses_names_walls_and_places(service: Service, desk: Callable[..., Desk]) -> None:
    with writing(service.engine) as session:
        home, contact, _ = make_household(session, service, address="4 Weir Street")
        fill_house(session, service, home, contact)
        session.exec(select(Membership)).one().name = "Ana Bell"
    put(service, 2, address="9 Orchard Road")
    seat = desk("rivera")
    for words in ("weir", "WEIR st", "bell", "north wall", "k2"):
        assert found(seat.see(f"/console/finding?q={words}")) == ["4 Weir Street"], words
    assert found(seat.see("/console/finding?q=%25")) == []
    assert len(found(seat.see("/console/finding"))) == 2


def test_a_name_with_an_accent_is_found_however_it_is_typed(service: Service, desk: Callable[..., Desk]) -> None:
    put(service, 1, address="7 \u00c1vila Lane")
    seat = desk("rivera")
    assert found(seat.see("/console/finding?q=%C3%A1vila")) == ["7 \u00c1vila Lane"]
    assert found(seat.see("/console/finding?q=%C3%81vila")) == ["7 \u00c1vila Lane"]


@pytest.mark.parametrize(
    ("filters", "expected"),
    [
        ("stage=dry", {"1"}), ("band=wet", {"2"}), ("language=es", {"3"}), ("area=fenn_landing", {"4"}),
        ("overdue=1", {"5"}), ("stalled=1", {"6"}), ("unreached=1", {"7"}), ("mould=1", {"8"}),
        ("stalled=1&mould=1", set()),
    ],
)  # fmt: skip
def test_each_list_holds_what_it_says(
    service: Service, desk: Callable[..., Desk], filters: str, expected: set[str]
) -> None:
    today = service.clock.now().date()
    put(service, 1, stage="dry")
    put(service, 2, band="wet")
    put(service, 3, language="es")
    put(service, 4, "fenn_landing")
    put(service, 5, next_check_on=today - dt.timedelta(days=1))
    put(service, 6, stalled=True, next_check_on=today)
    put(service, 7, unanswered=2)
    put(service, 8, mould_open=True)
    assert {each.split()[0] for each in found(desk("rivera").see(f"/console/finding?{filters}"))} == expected


def test_pages_follow_each_other_without_gap_or_repetition(
    service: Service, desk: Callable[..., Desk], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(finding_module.find, "__defaults__", (2,))
    today = service.clock.now().date()
    for number in range(5):
        put(service, number, next_check_on=today - dt.timedelta(days=number // 2 + 1))
    seat = desk("rivera")
    for filters, first in (("", "4"), ("?overdue=1", "4")):
        address, seen = f"/console/finding{filters}", []
        while address:
            page = seat.see(address)
            seen += found(page)
            after = re.search(r'href="(/console/finding\?[^"]*after=[^"]*)"', page)
            address = after[1].replace("&amp;", "&") if after else ""
        assert len(seen) == len(set(seen)) == 5
        assert seen[0].startswith(first)


def test_a_number_is_found_by_post_and_stands_in_no_address_and_no_audit(
    service: Service, desk: Callable[..., Desk]
) -> None:
    home = put(service, 23)
    seat = desk("rivera")
    for typed in ("+1 202 555 0123", "(202) 555-0123"):
        assert seat.do("/console/finding", q=typed) == f"/console/households/{home}"
    assert "No household of your areas" in seat.do("/console/finding", 200, q="202 555 0124")
    seat.see("/console/finding?q=2025550123", 422)
    with reading(service.engine) as session:
        written = [row.model_dump_json() for row in session.exec(select(Audit))]
    assert not any("5550123" in row or "555-0123" in row for row in written)
    assert sum("find_number" in row for row in written) == 3


def test_words_that_were_posted_go_on_in_the_address(service: Service, desk: Callable[..., Desk]) -> None:
    assert desk("rivera").do("/console/finding", q="4 Weir & Mill") == "/console/finding?q=4+Weir+%26+Mill"


def test_another_office_finds_nothing_by_list_word_number_or_file(service: Service, desk: Callable[..., Desk]) -> None:
    put(service, 23)
    seat = desk("holt", "upper")
    for address in ("/console/finding", "/console/finding?q=weir", "/console/finding?area=millrace"):
        assert found(seat.see(address)) == []
    assert "No household" in seat.do("/console/finding", 200, q="202 555 0123")
    assert len(list(csv.reader(io.StringIO(seat.see("/console/finding.csv"))))) == 1


def test_a_file_holds_the_whole_list_defused_and_is_written_down(
    service: Service, desk: Callable[..., Desk], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(finding_module, "ROWS_AT_ONCE", 2)
    for number in range(5):
        put(service, number, address='=HYPERLINK("http://x")' if number == 3 else f"{number} Weir Street")
    put(service, 9, language="es")
    page = desk("rivera").see("/console/finding.csv?language=en")
    rows = list(csv.DictReader(io.StringIO(page.removeprefix("\ufeff"))))
    assert [row["address"][:2] for row in rows] == ["4 ", "'=", "2 ", "1 ", "0 "]
    assert "2025550" not in page
    with reading(service.engine) as session:
        row = session.exec(select(Audit).where(col(Audit.action) == "export")).one()
    assert row.detail == {"filters": "language=en"}


@pytest.mark.parametrize("begin", ["=", "+", "-", "@", "\t", "\r", "\uff1d", " ="])
def test_no_cell_begins_as_a_formula(begin: str) -> None:
    assert defused(f"{begin}1+1") == f"'{begin}1+1"
    assert defused("1=1") == "1=1"


@pytest.mark.parametrize("after", ["x", "1.2", "2027-13-01.5", "99999999999999999999", "2027-01-01.5"])
def test_a_key_that_is_none_is_refused(desk: Callable[..., Desk], after: str) -> None:
    desk("rivera").see(f"/console/finding?after={after}", 422)


@pytest.mark.parametrize(
    ("filters", "index"),
    [
        ("band=wet", "ix_household_band"),
        ("stage=dry", "ix_household_stage"),
        ("area=fenn_landing", "ix_household_area"),
    ],
)
def test_a_value_that_nobody_has_is_looked_up_and_not_sought_in_the_whole_county(
    service: Service, desk: Callable[..., Desk], filters: str, index: str
) -> None:
    """All stand alike, and the database knows it: as in the first weeks after a flood."""
    for number in range(1, 40):
        put(service, number, band="caution", stage="measure")
    with writing(service.engine) as session:
        session.connection().exec_driver_sql("analyze")
    seat = desk("chief", coordinator=True)
    asked: list[tuple[str, object]] = []

    def note(_connection: object, _cursor: object, statement: str, parameters: object, *_: object) -> None:
        if "FROM household" in statement and "LIMIT" in statement:
            asked.append((statement, parameters))

    event.listen(service.engine, "before_cursor_execute", note)
    assert found(seat.see(f"/console/finding?{filters}")) == []
    event.remove(service.engine, "before_cursor_execute", note)
    if service.engine.dialect.name == "sqlite":  # PostgreSQL reads a table of forty rows whole, and is right
        with service.engine.connect() as connection:
            plan = connection.exec_driver_sql(f"explain query plan {asked[0][0]}", asked[0][1])  # type: ignore[arg-type]
            assert index in " ".join(row[3] for row in plan)


def test_who_does_not_answer_comes_by_last_band_and_risk_page_by_page(
    service: Service, desk: Callable[..., Desk], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Silence makes no house dry: the wet come first, what was never read before the dry, an open risk before none."""
    put(service, 1, band="dry", unanswered=3)
    put(service, 2, band="unread", unanswered=3)
    put(service, 3, band="wet", unanswered=3)
    put(service, 4, band="caution", unanswered=3)
    put(service, 5, band="wet", unanswered=1, mould_open=True)
    put(service, 6, band="wet", unanswered=0)
    put(service, 7, band="dry", unanswered=3, stalled=True)
    monkeypatch.setattr(finding_module.find, "__defaults__", (2,))
    seat, seen, address = desk("rivera"), [], "/console/finding?unreached=1"
    while address:
        page = seat.see(address)
        seen += found(page)
        onward = re.search(r'href="(/console/finding\?[^"]+)">Next page', page)
        address = onward[1].replace("&amp;", "&") if onward else ""
    assert seen == [f"{number} Weir Street" for number in (5, 3, 4, 2, 7, 1)]
    assert "Worst last band" in page
    assert seat.client.get("/console/finding?unreached=1&after=12").status_code == 422
