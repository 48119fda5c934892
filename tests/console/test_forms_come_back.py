"""A form that was refused comes back as it was filled in."""

from __future__ import annotations

import re
from collections.abc import Callable

from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import one_household

Seat = Callable[..., Desk]


def ticked(page: str) -> set[str]:
    boxes = re.findall(r'<input type="(?:checkbox|radio)" name="([^"]+)" value="([^"]*)"[^>]*? checked', page)
    return {f"{name}={value}" for name, value in boxes}


def chosen(page: str) -> set[str]:
    return set(re.findall(r'<option value="([^"]+)"[^>]*? selected', page))


def test_a_notice_without_any_area_ticked(desk: Seat) -> None:
    page = desk("county", None, coordinator=True).do(
        "/console/notices", 422, title="Meters", band_wet="1", language_es="1"
    )
    assert ticked(page) == {"band_wet=1", "language_es=1"}
    assert 'value="Meters"' in page


def test_a_notice_with_one_area_ticked(desk: Seat) -> None:
    page = desk("county", None, coordinator=True).do(
        "/console/notices", 422, area_millrace="1", own_en="Come on Saturday", helpers="1"
    )
    assert ticked(page) == {"area_millrace=1", "helpers=1"}
    assert "Come on Saturday" in page


def test_a_recall_that_no_longer_reads_wrong(desk: Seat) -> None:
    seat = desk("county", None, coordinator=True)
    page = seat.do("/console/records/new-recall/preview", 422, meter="A3", reason="fell", last_day="2027-03-01")
    assert ticked(page) == set()
    assert 'value="2027-03-01"' in page
    assert "fell" in page
    assert ticked(seat.see("/console/records/new-recall")) == {"still_wrong=1"}


def test_readings_of_a_visit_that_were_not_understood(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    day = service.clock.now().date().replace(day=2).isoformat()
    seat = desk("rivera")
    fresh = seat.see(f"/console/households/{home}")
    assert re.search(r'<select name="right" required><option value="">choose</option>(?!.* selected)', fresh)
    for said, other in (("1", "0"), ("0", "1")):
        sent = {"readings": "K1 about 20ish", "day": day, "right": said}
        page = seat.do(f"/console/households/{home}/readings", 422, **sent)
        assert "K1 about 20ish" in page
        assert f'name="day" value="{day}"' in page
        assert f'<option value="{said}" selected>' in page
        assert f'<option value="{other}" selected>' not in page


def test_an_answer_that_is_too_long_after_which_the_guide_was_to_go_on(service: Service, desk: Seat) -> None:
    home, contact = one_household(service)
    page = desk("rivera").do(f"/console/households/{home}/answer", 422, text="word " * 200, contact=str(contact))
    form = page[page.index('id="answer"') : page.index("</form>", page.index('id="answer"'))]
    assert ticked(form) == set()
    assert "word word" in form


def test_a_phone_that_cannot_be_texted(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    asked = {"number": "12", "role": "contractor", "name": "Ida", "language": "en", "agreed": "1"}
    page = desk("rivera").do(f"/console/households/{home}/phones", 422, **asked)
    assert "no number that can be texted" in page
    form = page[page.index(f"/households/{home}/phones") :]
    assert 'value="12"' in form
    assert 'value="Ida"' in form
    assert {"contractor", "en"} <= chosen(form)
    assert "agreed=1" in ticked(form)
