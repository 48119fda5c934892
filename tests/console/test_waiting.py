"""The waiting list: order, filters in the address, what each row tells."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable

from guide_service.console.words import REASONS
from guide_service.database import writing
from guide_service.dialogue.effects import EscalationReason
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import make_escalation, make_household, make_message


def put(service: Service, number: int, area: str | None = "millrace", minutes: int = 0, **values: object) -> None:
    with writing(service.engine) as session:
        home, contact, _ = make_household(session, service, f"+12025550{100 + number}", area, band="caution")
        opened = service.clock.now() - dt.timedelta(minutes=minutes)
        make_escalation(session, service, home, contact, opened_at=opened, **values)


def rows(page: str) -> list[str]:
    return re.findall(r"<blockquote[^>]*>(.*?)</blockquote>", page)


def test_every_reason_has_words() -> None:
    assert {reason.value for reason in EscalationReason} <= REASONS.keys()


def test_the_most_urgent_and_longest_waiting_come_first(service: Service, desk: Callable[..., Desk]) -> None:
    put(service, 1, words="soon, old", urgency=3, minutes=900)
    put(service, 2, words="danger", urgency=1, reason="danger", minutes=2)
    put(service, 3, words="urgent, new", urgency=2, minutes=5)
    put(service, 4, words="urgent, old", urgency=2, minutes=50)
    page = desk("rivera").see("/console")
    assert rows(page) == ["danger", "urgent, old", "urgent, new", "soon, old"]
    assert "4 matters are waiting, the longest for 15 hours." in page


def test_a_row_tells_reason_words_area_language_masked_number_wait_and_band(
    service: Service, desk: Callable[..., Desk]
) -> None:
    put(service, 23, "fenn_landing", 120, words="<b>it smells</b>", reason="mould", times=3)
    page = desk("rivera").see("/console")
    for expected in ("Mold reported", "&lt;b&gt;it smells&lt;/b&gt;", "Fenn Landing", "English", "\u20260123",
                     "2 hours", "3 times", "caution"):  # fmt: skip
        assert expected in page, expected
    assert "2025550123" not in page


def test_behind_the_number_of_an_answer_stand_the_words_before_it(service: Service, desk: Callable[..., Desk]) -> None:
    with writing(service.engine) as session:
        home, contact, _ = make_household(session, service)
        for body in ("black fuzz on the wall", "2", "1", "later words"):
            row = make_message(session, service, home, contact, body=body)
            if body == "1":
                make_escalation(session, service, home, contact, reason="mould", words="1", message_id=row.id)
    assert rows(desk("rivera").see("/console")) == ["black fuzz on the wall"]


def test_filters_stand_in_the_address(service: Service, desk: Callable[..., Desk]) -> None:
    put(service, 1, words="one", reason="mould")
    put(service, 2, "fenn_landing", words="two", reason="person")
    put(service, 3, words="three", reason="person", state="settled", settled_at=service.clock.now(), outcome="called")
    seat = desk("rivera")
    assert rows(seat.see("/console?reason=mould")) == ["one"]
    assert rows(seat.see("/console?area=fenn_landing&reason=person")) == ["two"]
    assert rows(seat.see("/console?state=settled")) == ["three"]
    assert rows(seat.see("/console?state=claimed")) == []
    seat.see("/console?state=<script>", 422)


def test_an_agent_sees_only_the_areas_of_the_office(service: Service, desk: Callable[..., Desk]) -> None:
    put(service, 1, "millrace", words="mine")
    put(service, 2, "upper_larkwater", words="theirs")
    put(service, 3, None, words="nobody's yet")
    assert rows(desk("rivera").see("/console")) == ["mine", "nobody's yet".replace("'", "&#39;")]
    assert rows(desk("holt", "upper").see("/console")) == ["theirs"]
    assert len(rows(desk("chief", coordinator=True).see("/console"))) == 3


def test_an_empty_list_says_so(service: Service, desk: Callable[..., Desk]) -> None:
    assert "Nobody is waiting." in desk("rivera").see("/console")


def test_a_long_list_goes_on_on_the_next_page(service: Service, desk: Callable[..., Desk]) -> None:
    for number in range(62):
        put(service, number, words=f"w{number}", minutes=100 - number)
    seat = desk("rivera")
    first = seat.see("/console?reason=person")
    assert 'href="/console?reason=person&amp;page=2"' in first
    assert rows(first)[-1] == "w59"
    assert rows(seat.see("/console?reason=person&page=2")) == ["w60", "w61"]
