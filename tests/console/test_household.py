"""A household's page: what it shows of the file, and what it never shows."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from sqlmodel import select

from guide_service.console import household_file
from guide_service.database import writing
from guide_service.records import Contact, Household, PlaceRow, ReadingRow, WallRow
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import make_message, one_household

Seat = Callable[..., Desk]


def say(service: Service, *texts: dict[str, object]) -> int:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        house, contact = session.exec(select(Household)).one(), session.exec(select(Contact)).one()
        for text in texts:
            make_message(session, service, house, contact, **text)
    return home


def test_the_newest_text_stands_first_with_its_local_time(service: Service, desk: Seat) -> None:
    home = say(service, {"body": "first"}, {"body": "second"})
    page = desk("rivera").see(f"/console/households/{home}")
    assert page.index("second") < page.index("first")
    assert "12:00\u202fPM" in page


def test_what_people_write_is_never_markup(service: Service, desk: Seat) -> None:
    home = say(service, {"body": "<script>alert(1)</script>"})
    page = desk("rivera").see(f"/console/households/{home}")
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "<script>alert" not in page


def test_delivery_pictures_and_silences_are_told(service: Service, desk: Seat) -> None:
    home = say(
        service,
        {"body": "a", "direction": "out", "origin": "started", "status": "undelivered", "error_code": "30003"},
        {"body": "b", "direction": "out", "origin": "reply", "status": "delivered", "segments": 2},
        {"body": "", "media": [{"url": "https://pictures.example/1.jpg", "type": "image/jpeg"}]},
        {"body": "c", "outcome": "silence", "outcome_reason": "taken_over"},
        {"body": None},
    )
    page = desk("rivera").see(f"/console/households/{home}")
    for expected in (
        "did not arrive, carrier's code 30003",
        "delivered, 2 segments",
        'href="https://pictures.example/1.jpg"',
        "no answer: an agent has taken over",
        "The text was removed after its retention time.",
    ):
        assert expected in page, expected


def test_readings_stand_by_place_and_visit_with_their_latest_band(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    page = desk("rivera").see(f"/console/households/{home}")
    k1 = re.search(r"<tr>\s*<th scope=\"row\">K1.*?</tr>", page, re.DOTALL)
    assert k1
    assert re.findall(r"<span>(\d+)</span>", k1[0]) == ["19", "16", "13", "25", "21", "18", "32", "27", "23"]
    assert "band-wet" in k1[0]
    assert "Mar 3" in page


def test_replaced_readings_stay_in_the_list_and_leave_the_table(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        old = session.exec(select(ReadingRow).where(ReadingRow.value == 32.0)).first()
        assert old is not None
        old.superseded_at = service.clock.now()
    page = desk("rivera").see(f"/console/households/{home}")
    table, listed = page.split("Readings as they were typed")
    assert ">32<" not in table
    assert ">32<" in listed
    assert ">replaced<" in page


@pytest.mark.parametrize(("qualifier", "shown"), [("above", "&gt;40"), ("below", "&lt;40"), ("exact", ">40<")])
def test_a_number_keeps_its_qualifier(service: Service, desk: Seat, qualifier: str, shown: str) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        row = session.exec(select(ReadingRow).where(ReadingRow.value == 32.0)).first()
        assert row is not None
        row.value, row.qualifier = 40.0, qualifier
    assert shown in desk("rivera").see(f"/console/households/{home}")


def test_earlier_texts_are_one_link_away(service: Service, desk: Seat, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(household_file, "MESSAGES", 3)
    home = say(service, *({"body": f"text {number}"} for number in range(5)))
    seat = desk("rivera")
    page = seat.see(f"/console/households/{home}")
    assert "text 4" in page
    assert "text 1" not in page
    link = re.search(rf'href="(/console/households/{home}\?before=\d+)"', page)
    assert link
    assert "text 1" in seat.see(link[1])


def test_the_address_is_the_heading_once_it_is_known(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    seat = desk("rivera")
    assert "<h1>Household of \u20260123</h1>" in seat.see(f"/console/households/{home}")
    with writing(service.engine) as session:
        session.exec(select(Household)).one().address = "12 Weir Street"
    assert "<h1>12 Weir Street</h1>" in seat.see(f"/console/households/{home}")


def test_the_drying_log_is_linked(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    assert f'href="/console/households/{home}/log"' in desk("rivera").see(f"/console/households/{home}")


def test_the_columns_of_a_wall_are_the_days_on_which_it_was_read(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        today = service.clock.now()
        bath = WallRow(household_id=home, letter="B", name="bath", bays=1, created_at=today)
        session.add(bath)
        session.flush()
        session.add(PlaceRow(household_id=home, wall_id=bath.id, label="B1", created_at=today))
    heads = re.findall(r"<thead>(.*?)</thead>", desk("rivera").see(f"/console/households/{home}"), re.DOTALL)
    assert sorted(head.count('class="num number"') for head in heads[:2]) == [0, 3]
