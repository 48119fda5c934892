"""The county in numbers: what each office sees of it, the changes, the curve, and the report that names nobody."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from itertools import count, pairwise

import pytest
from sqlmodel import select

from guide_service.clock import FixedClock
from guide_service.console import dry_curve
from guide_service.console.catalogue import languages, translations
from guide_service.console.county_routes import LATE
from guide_service.console.roles import Role
from guide_service.database import reading, writing
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.followup import county_counts
from guide_service.followup.escalations import raise_escalation
from guide_service.records import Household
from guide_service.wiring import Service
from tests.console.conftest import Desk, audited

MONDAY = dt.date(2027, 3, 15)
Seat = Callable[..., Desk]


def put(service: Service, many: int, area: str | None = "millrace", **values: object) -> None:
    now = service.clock.now()
    values = {"language": "en", "created_at": now, "updated_at": now} | values
    with writing(service.engine) as session:
        session.add_all([Household(area=area, **values) for _ in range(many)])


def counted(service: Service) -> None:
    numbers = county_counts.counted_now(service)
    with writing(service.engine) as session:
        county_counts.keep(session, numbers)


def plain(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page))


def row(page: str, name: str) -> list[str]:
    """The cells of the table row with this heading."""
    found = re.search(rf'<tr><th scope="row">(?:<a [^>]*>|<span .*?<span>)?{name}<.*?</tr>', page, re.DOTALL)
    assert found, name
    return re.findall(r'<td class="num">(.*?)</td>', found[0])


def line(report: str, name: str) -> list[str]:
    """What stands behind these words in the report."""
    (found,) = [each for each in report.splitlines() if each.strip().startswith(name)]
    return found.strip().removeprefix(name).split()


def test_before_anything_is_counted_the_page_says_so(desk: Seat) -> None:
    assert "Nothing has been counted yet" in desk("rivera").see("/console/county")
    desk("castell", None, coordinator=True).see("/console/county/report", 303)


def test_stages_bands_and_flags_with_the_change_since_the_day_before(
    service: Service, clock: FixedClock, desk: Seat
) -> None:
    put(service, 2, stage="clean")
    put(service, 1, stage="measure", wet=3, dry=2, band="wet")
    counted(service)
    clock.advance(days=1)
    put(service, 3, stage="measure", wet=1, caution=1, band="wet", next_check_on=MONDAY, mould_open=True)
    counted(service)
    page = desk("rivera").see("/console/county")
    assert row(page, "measuring") == ["4", "+3"]
    assert row(page, "washing") == ["2", "\N{EN DASH}"]
    assert row(page, "wet") == ["6", "+3"]
    assert row(page, "Millrace") == ["6", "6", "3", "2", "3", "0", "3"]
    assert "Changes are since the last count of Mon, Mar 15." in plain(page)
    assert '<a href="/console/finding?overdue=1">' in page


def test_filters_hold_for_every_number_and_go_on_into_the_lists(service: Service, desk: Seat) -> None:
    put(service, 2, stage="dry", language="es")
    put(service, 3, "fenn_landing", stage="dry")
    counted(service)
    seat = desk("rivera")
    assert row(seat.see("/console/county"), "drying")[0] == "5"
    page = seat.see("/console/county?area=fenn_landing&language=en")
    assert row(page, "drying")[0] == "3"
    assert "/console/finding?stage=dry&amp;area=fenn_landing&amp;language=en" in page
    assert "No household yet" in seat.see("/console/county?area=fenn_landing&language=es")


def test_an_office_sees_its_own_areas_and_the_first_one_those_without_an_area(service: Service, desk: Seat) -> None:
    put(service, 2, stage="dry")
    put(service, 3, "upper_larkwater", stage="dry")
    put(service, 4, None, stage="dry")
    put(service, 5, "long_gone", stage="dry")
    counted(service)
    assert row(desk("rivera").see("/console/county"), "drying")[0] == "11"
    page = desk("holt", "upper").see("/console/county")
    assert row(page, "drying")[0] == "3"
    assert "Millrace" not in page.split("</form>")[-1]
    assert row(desk("castell", None, coordinator=True).see("/console/county"), "area not known")[0] == "9"
    assert "No household yet" in desk("rivera2").see("/console/county?area=upper_larkwater")


def test_old_counts_are_called_old(service: Service, clock: FixedClock, desk: Seat) -> None:
    put(service, 1)
    counted(service)
    seat = desk("rivera")
    clock.advance(seconds=LATE.total_seconds())
    assert "These counts are old" not in seat.see("/console/county")
    clock.advance(seconds=1)
    assert "These counts are old" in seat.see("/console/county")


def test_the_curve_cumulates_by_week_and_stops_after_half_a_year() -> None:
    likely = [(None, 2), (MONDAY, 3), (MONDAY + dt.timedelta(weeks=2), 4), (MONDAY + dt.timedelta(weeks=60), 9)]
    late = [(None, 0), (MONDAY + dt.timedelta(weeks=3), 5)]
    weeks = dry_curve.by_week(likely, late, MONDAY + dt.timedelta(days=3))
    assert [week.likely for week in weeks[:4]] == [5, 5, 9, 9]
    assert [week.late for week in weeks[:4]] == [0, 0, 0, 5]
    assert weeks[0].end == MONDAY + dt.timedelta(days=6)
    assert len(weeks) == dry_curve.MOST_WEEKS
    assert len(dry_curve.by_week([(None, 0)], [(None, 0)], MONDAY)) == dry_curve.LEAST_WEEKS


@pytest.mark.parametrize("not_dry", [0, 1, 7, 12, 96_000])
def test_the_curve_stays_in_its_frame_and_its_names_apart(not_dry: int) -> None:
    weeks = dry_curve.by_week([(None, 0), (MONDAY, not_dry)], [(None, 0), (MONDAY, not_dry)], MONDAY)
    words = {"title": "<t>", "likely": "likely day", "late": "late end", "all": "all"}
    picture = dry_curve.draw(weeks, (0, 0), not_dry, words, str)
    assert "<title>&lt;t&gt;</title>" in picture
    points = re.findall(r"([\d.]+),([\d.]+)", " ".join(re.findall(r'points="(.*?)"', picture)))
    assert all(0 <= float(x) <= dry_curve.WIDTH and 0 <= float(y) <= dry_curve.HEIGHT for x, y in points)
    names = sorted(
        float(y) for y in re.findall(rf'<text x="{dry_curve.WIDTH - dry_curve.RIGHT + 8}" y="([\d.]+)"', picture)
    )
    assert all(after - before > 15 for before, after in pairwise(names))


def test_the_report_is_the_coordinators_and_each_is_written_down(service: Service, desk: Seat) -> None:
    put(service, 30)
    counted(service)
    desk("rivera").see("/console/county/report", 404)
    desk("walker", role=Role.VOLUNTEER).see("/console/county/report.txt", 404)
    seat = desk("castell", None, coordinator=True)
    text = seat.see("/console/county/report.txt")
    assert text.strip() in seat.see("/console/county/report").replace("&#39;", "'").replace("&amp;", "&")
    assert audited(service) == ["report", "report"]


def test_the_report_says_how_as_of_when_what_is_missing_and_what_is_a_self_report(
    service: Service, clock: FixedClock, desk: Seat
) -> None:
    put(service, 40, stage="dry", last_check_on=MONDAY, band="wet", wet=2, dry_on=MONDAY + dt.timedelta(days=10))
    counted(service)
    clock.advance(days=1)
    put(service, 20, "upper_larkwater", stage="clean", mould_open=True)
    counted(service)
    report = desk("castell", None, coordinator=True).see("/console/county/report.txt")
    assert "As of 2027-03-16 12:00 (EDT)" in report
    assert "Changes since 2027-03-15" in report
    assert line(report, "drying  ") == ["40", "\N{EN DASH}"]
    assert line(report, "washing") == ["20", "+20"]
    assert line(report, "all  ") == ["60", "+20"]
    assert line(report, "wet  ")[0] == "80"
    assert line(report, "within 2 weeks")[0] == "40"
    assert line(report, "Upper Larkwater") == ["20", "0", "0", "20"]
    assert "60 households are with the guide, 40 have measured." in report
    for part in ("HOW COUNTED", "KNOWN GAPS", "PRIVACY", "HOUSEHOLDS BY STAGE*", "verified"):
        assert part in report
    assert max(map(len, report.splitlines())) <= 66
    page = desk("castell", None, coordinator=True).see("/console/county/report")
    narrow = page.split('class="on-phone', 1)[1]
    for cells in (("washing", "20", "+20"), ("Upper Larkwater", "20", "0", "0", "20")):
        row = re.search(rf"<tr><th scope=\"row\">{cells[0]}</th>(.*?)</tr>", narrow)
        assert row, cells
        assert re.findall(r">([^<]*)</td>", row[1]) == list(cells[1:]), "the phone shows what the text says"


def test_totals_of_the_county_are_told_and_no_small_number_of_an_area(
    service: Service, clock: FixedClock, desk: Seat
) -> None:
    put(service, 12, stage="dry")
    put(service, 9, stage="clean")
    put(service, 30, stage="measure")
    counted(service)
    clock.advance(days=1)
    put(service, 4, stage="clean")
    put(service, 3, "upper_larkwater", stage="dry", stalled=True)
    counted(service)
    report = desk("castell", None, coordinator=True).see("/console/county/report.txt")
    assert line(report, "washing") == ["13", "+4"]
    assert line(report, "drying  ") == ["15", "+3"]
    assert line(report, "measuring") == ["30", "\N{EN DASH}"]
    assert line(report, "drying stalled*") == ["3", "+3"]
    assert "Stalled: 3." in report
    assert "Upper Larkwater" not in report
    assert "Millrace" not in report, "the other area would follow from it"
    assert line(report, "English")[0] == "58", "all of them: the total and no more"


def test_of_an_area_the_cell_goes_and_what_it_could_be_worked_out_from(service: Service, desk: Seat) -> None:
    put(service, 40, mould_open=True)
    put(service, 30, "fenn_landing", mould_open=True)
    put(service, 28, "upper_larkwater")
    put(service, 2, "upper_larkwater", stalled=True)
    counted(service)
    report = desk("castell", None, coordinator=True).see("/console/county/report.txt")
    assert line(report, "drying stalled*")[0] == "2"
    for area, homes, mould in (("Millrace", "40", "40"), ("Fenn Landing", "30", "30"), ("Upper Larkwater", "30", "0")):
        assert line(report, area) == [homes, "0", "withheld", mould]


def test_a_handful_of_households_is_told_nothing_of_and_people_at_risk_never(service: Service, desk: Seat) -> None:
    put(service, 8, stage="clean", mould_open=True)
    counted(service)
    seat = desk("castell", None, coordinator=True)
    report = seat.see("/console/county/report.txt")
    assert line(report, "washing") == line(report, "all  ") == line(report, "mold report open*") == ["withheld"]
    put(service, 33, stage="clean", mould_open=True)
    with reading(service.engine) as session:
        some = session.exec(select(Household.id).limit(3)).all()
    with writing(service.engine) as session:
        for home in some:
            raise_escalation(session, service, home, EscalationReason.MOULD, Urgency.URGENT, detail={"risk": True})
    counted(service)
    report = seat.see("/console/county/report.txt")
    assert line(report, "mold report open*")[0] == "41"
    assert line(report, "mold, and somebody at risk") == ["withheld"]


def test_nothing_of_a_household_stands_in_the_report(service: Service, desk: Seat) -> None:
    for number in count(1):
        put(service, 1, address=f"{number} Weir Street", stage="dry")
        if number == 40:
            break
    counted(service)
    assert "Weir" not in desk("castell", None, coordinator=True).see("/console/county/report.txt")


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("name", ["likely day", "late end", "all not dry yet"])
def test_the_names_of_the_curves_lines_have_room_in_every_language(language: str, name: str) -> None:
    assert len(translations(language).gettext(name)) <= dry_curve.LABEL_ROOM
