"""The drying log on a page and as PDF: everything that was read, by role, with what stands behind each answer."""

from __future__ import annotations

import datetime as dt
import re
import zlib
from collections.abc import Callable
from dataclasses import replace

import pytest
from fpdf import FPDF
from sqlmodel import col, select

from guide_service.console import log_pdf as pages_of_pdf
from guide_service.console.log_contents import log_sheet
from guide_service.console.log_pdf import MISSING, log_pdf
from guide_service.console.log_pins import log_of
from guide_service.console.log_reasons import REASONS, in_words
from guide_service.console.log_values import LogSheet
from guide_service.console.roles import Role
from guide_service.database import reading, writing
from guide_service.drying.assessment import ReasonCode
from guide_service.records import Agent, Check, DryingLog, Household, ReadingRow, ReadyAnswer, Verdict, WallRow
from guide_service.wiring import Service
from tests.console.conftest import Desk, audited
from tests.console.rows import make_agent, one_household

Seat = Callable[..., Desk]
NUMBER = "+12025550123"


def sheet(service: Service, household: int) -> LogSheet:
    with writing(service.engine) as session:
        home = session.get_one(Household, household)
        log = log_of(session, home)
    with reading(service.engine) as session:
        return log_sheet(session, service, home, log)


def pages_of(pdf: bytes) -> int:
    return len(re.findall(rb"/Type /Page\b(?!s)", pdf))


def streams_of(pdf: bytes) -> list[bytes]:
    found = []
    for packed in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL):
        try:
            found.append(zlib.decompress(packed))
        except zlib.error:
            found.append(packed)
    return found


def test_every_reading_stands_in_it_as_typed_and_as_understood(service: Service) -> None:
    home, _ = one_household(service)
    with reading(service.engine) as session:
        rows = session.exec(select(ReadingRow).where(ReadingRow.household_id == home)).all()
    log = sheet(service, home)
    told = sorted((r.place, r.number, r.typed) for check in log.checks for r in check.readings)
    assert told == sorted((row.place, f"{row.value:g}", row.typed) for row in rows)
    assert [check.on for check in log.checks] == sorted({row.taken_on for row in rows})


def test_a_correction_keeps_the_old_reading_and_says_what_took_its_place(service: Service) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        old = session.exec(select(ReadingRow).where(ReadingRow.place == "K1", ReadingRow.point == "plate")).first()
        assert old is not None
        new = old.model_dump() | {"value": 13.0, "typed": "13", "replaces": old.id}
        del new["id"]
        session.add(ReadingRow(**new))
        old.superseded_at = service.clock.now()
        session.add(old)
        gone = session.exec(select(ReadingRow).where(ReadingRow.place == "K2", ReadingRow.point == "plate")).first()
        assert gone is not None
        gone.superseded_at = service.clock.now()
        session.add(gone)
    states = [(r.place, r.state, r.counts) for check in sheet(service, home).checks for r in check.readings]
    assert ("K1", "corrected to K1 bottom plate 13, Mon, Mar 15, 12:00\u202fPM", False) in states
    assert ("K2", "withdrawn, Mon, Mar 15, 12:00\u202fPM", False) in states
    assert [state for state in states if state[1] == "not confirmed"], "those of a third party are marked"


def test_who_took_them_is_a_role_and_never_a_number_or_a_name(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    make_agent(service, "rivera")
    make_agent(service, "walker", role=Role.VOLUNTEER)
    with writing(service.engine) as session:
        rows = session.exec(select(ReadingRow).where(ReadingRow.place == "K1")).all()
        by = {agent.login: agent.id for agent in session.exec(select(Agent))}
        check = session.exec(select(Check)).first()
        assert check is not None
        for row in session.exec(select(ReadingRow)):
            row.contact_id = check.contact_id
        rows[0].agent_id, rows[1].agent_id = by["rivera"], by["walker"]
    takers = {r.taken_by for each in sheet(service, home).checks for r in each.readings}
    assert takers == {"owner", "county agent", "volunteer of a measuring round"}
    shown = desk("holt", "millrace").see(f"/console/households/{home}/log")
    assert NUMBER not in shown
    assert NUMBER[-4:] not in shown
    assert "Rivera" not in shown


def test_meter_and_check_block_stand_with_each_check(service: Service) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        visit = session.exec(select(Check).order_by(col(Check.taken_on))).first()
        assert visit is not None
        visit.meter, visit.block_value, visit.self_check, visit.mode = "number 4", 12.5, "passed", "wood_pins"
        session.add(visit)
    facts = dict(sheet(service, home).checks[0].facts)
    assert facts["Meter"] == "number 4"
    assert facts["Meter's own check"] == "passed, 12.5 on its check block"
    assert facts["Setting"] == "wood, pins"


def test_a_verdict_stands_with_the_check_it_rests_on_its_reasons_in_words_and_its_policy(service: Service) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        rows = session.exec(select(ReadingRow).where(ReadingRow.place == "K1")).all()
        first = min(row.taken_on for row in rows)
        behind = [str(row.id) for row in rows if row.taken_on == first]
        reasons = [{"code": "worst_point", "args": {"point": "plate", "value": 32.0}}]
        at = service.clock.now() - dt.timedelta(days=12)
        session.add(Verdict(household_id=home, place="K1", band="wet", reasons=reasons, readings=behind, at=at))
        session.add(Verdict(household_id=home, place="K1", band="wet", reasons=reasons, readings=behind, at=at))
    verdicts = [v for v in sheet(service, home).checks[0].verdicts if v.place == "K1"]
    assert [(v.band, v.reasons, v.policy_version) for v in verdicts] == [
        ("wet", ("wettest point: bottom plate at 32",), 1)
    ], "said once, with the check that its readings are of"


def test_what_was_said_of_closing_a_wall_stands_there_and_that_it_was_withdrawn(service: Service) -> None:
    home, _ = one_household(service)
    now = service.clock.now()
    with writing(service.engine) as session:
        wall = session.exec(select(WallRow.id)).one()
        told = {"household_id": home, "wall_id": wall, "at": now, "lapses_on": now.date() + dt.timedelta(days=9)}
        session.add(ReadyAnswer(**told, covers=["K1", "K2"]))
        session.add(ReadyAnswer(**told, covers=[]))
    first, second = sheet(service, home).walls[0].answers
    assert "readings of K1, K2 met the limit of policy version 1; lapses Wed, Mar 24" in first
    assert "no longer said to meet" in second


def test_every_reason_has_words_for_the_log() -> None:
    assert set(REASONS) == {str(code) for code in ReasonCode}
    for code in ReasonCode:
        assert in_words([{"code": str(code), "args": {}}])[0], "also one that lacks its arguments"
    assert in_words([{"code": "of_a_later_version"}]) == ["of a later version"]
    assert in_words([{"code": "missing_points", "args": {"points": ["plate", "mid_stud"]}}]) == [
        "points not read: bottom plate, mid stud"
    ]
    assert in_words([{"code": "not_sure_enough", "args": {"probability": 0.81, "needed": 0.95}}]) == [
        "too near the limit: 81% sure, 95% needed"
    ]


def test_the_page_says_that_it_is_no_certificate_and_has_plots_policy_and_signature_lines(
    service: Service, desk: Seat
) -> None:
    home, _ = one_household(service)
    shown = desk("rivera").see(f"/console/households/{home}/log")
    assert "This log is not a certificate. Inspection and permits decide" in shown
    assert shown.count("<svg xmlns") == 3
    assert "EPA, flooded-home drying video (2021): 15 %" in shown
    assert shown.count("name and signature") == 3
    assert "black spots" not in shown, "a resident's own words are not for others"
    assert audited(service)[-1] == "look_log"


@pytest.mark.parametrize(("paper", "width"), [("a4", b"595.28"), ("letter", b"612.00")])
def test_the_pdf_has_the_papers_size_and_plots_as_lines(service: Service, desk: Seat, paper: str, width: bytes) -> None:
    home, _ = one_household(service)
    answer = desk("rivera").client.get(f"/console/households/{home}/log.pdf?paper={paper}")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")
    assert b"/MediaBox [0 0 " + width in answer.content
    assert b"/Subtype /Image" not in answer.content, "nothing in it is a picture made of dots"
    drawn = b"".join(streams_of(answer.content))
    assert drawn.count(b" c\n") + drawn.count(b" c ") > 20, "the discs of the plots are curves"


def test_no_other_paper_is_offered(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    assert desk("rivera").client.get(f"/console/households/{home}/log.pdf?paper=poster").status_code == 422


@pytest.mark.parametrize(
    "name",
    [
        "\u6c34\u6eb4\u307e\u308a 3",
        "\u0645\u0646\u0632\u0644 \u0661\u0662",
        "\u0928\u0926\u0940 12",
        "house \U0001f30a 9",
        "a\u0301\u0323\u0302 \u202eback",
        "tab\tline\nnull\x01",
        "**bold** __under__",
    ],
)
def test_names_that_the_font_has_no_shapes_for_do_not_break_the_paper(service: Service, name: str) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        session.get_one(Household, home).address = name
        wall = session.exec(select(WallRow)).one()
        wall.name = name
        for row in session.exec(select(ReadingRow)):
            row.typed = name
        session.add(wall)
    assert pages_of(log_pdf(sheet(service, home), "a4")) >= 2


def test_a_square_on_the_paper_is_explained(service: Service) -> None:
    from guide_service.console.log_pdf import _Pdf

    pdf = _Pdf(sheet(service, one_household(service)[0]), "a4")
    assert pdf.printable("Mill \u6c34 Road") == f"Mill {MISSING} Road"
    assert pdf.lacked
    pdf.add_page()
    pdf.output()  # which closes the fonts' files


def test_a_long_log_runs_over_pages(service: Service) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        contact = session.exec(select(Check.contact_id)).first()
        for ago in range(20, 60):
            at = service.clock.now() - dt.timedelta(days=ago)
            visit = Check(household_id=home, contact_id=contact or 0, taken_on=at.date(), opened_at=at)
            session.add(visit)
            session.flush()
            for point in ("plate", "low_stud", "mid_stud"):
                session.add(ReadingRow(household_id=home, check_id=visit.id, place="K1", point=point, value=20.0,
                                       typed="20", taken_on=at.date(), arrived_at=at))  # fmt: skip
    assert pages_of(log_pdf(sheet(service, home), "letter")) > 5


def test_a_log_keeps_its_number(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    for _ in range(2):
        seat.see(f"/console/households/{home}/log")
    with reading(service.engine) as session:
        log = session.exec(select(DryingLog)).one()
    assert re.fullmatch(r"\d{8}", log.number)
    assert log.pin_hash is None


def test_plots_stand_two_to_a_row_and_no_row_is_torn_by_the_end_of_a_page(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = sheet(service, one_household(service)[0])
    log = replace(log, checks=(), plots=tuple(replace(log.plots[0], place=f"K{n}") for n in range(1, 10)))
    drawn: list[tuple[int, float, float, float]] = []
    draw = pages_of_pdf._draw

    def noted(pdf: FPDF, svg: str, left: float, top: float, width: float) -> None:
        drawn.append((pdf.page_no(), left, top, width))
        draw(pdf, svg, left, top, width)  # type: ignore[arg-type]

    monkeypatch.setattr(pages_of_pdf, "_draw", noted)
    log_pdf(log, "letter")
    pairs = list(zip(drawn[::2], drawn[1::2], strict=False))
    assert len(drawn) == 9
    assert len({page for page, *_ in drawn}) == 2
    assert all((a[0], a[2]) == (b[0], b[2]) and a[1] + a[3] < b[1] for a, b in pairs), "beside each other"
    assert all(top + width * 0.6 < 279 - 14 for _, _, top, width in drawn), "above the foot of the page"
