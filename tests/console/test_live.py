"""What makes an open page ask again: the marks, and the streams with their bounds and their end."""

from __future__ import annotations

import asyncio
import datetime as dt
from collections.abc import Callable

import pytest
from sqlalchemy import update
from sqlmodel import select

from guide_service.console import escalations, live
from guide_service.console.sign_in import SignedIn, sign_out
from guide_service.database import reading, writing
from guide_service.dialogue.effects import EscalationReason
from guide_service.followup.escalations import raise_escalation
from guide_service.records import AgentSession, Contact, Escalation, Household
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import make_message, one_household

Seat = Callable[..., Desk]


def mark(service: Service) -> str:
    with reading(service.engine) as session:
        return live.waiting_mark(session)


def signed_in(service: Service, seat: Desk) -> SignedIn:
    with reading(service.engine) as session:
        row = session.exec(select(AgentSession).where(AgentSession.agent_id == seat.agent.id)).one()
    return SignedIn(seat.agent, row.csrf, row.token_key)


def test_every_step_of_an_escalation_moves_the_mark(service: Service, desk: Seat) -> None:
    home, escalation = one_household(service)
    seat = desk("rivera")
    marks = [mark(service)]
    with writing(service.engine) as session:
        raise_escalation(session, service, home, EscalationReason.DANGER, 1)
    marks.append(mark(service))
    with writing(service.engine) as session:
        raise_escalation(session, service, home, EscalationReason.DANGER, 1)
    marks.append(mark(service))
    for step in ("claim", "release"):
        seat.do(f"/console/escalations/{escalation}/{step}")
        marks.append(mark(service))
    seat.do(f"/console/escalations/{escalation}/settle", outcome="called")
    marks.append(mark(service))
    assert len({*marks[:4], *marks[5:]}) == 5
    assert marks[4] == marks[2], "released, the list is as it was before the claim"


def test_a_new_text_moves_the_mark_of_its_household_only(service: Service) -> None:
    home, _ = one_household(service)
    other, _ = one_household(service, "+12025550124")

    def marks() -> tuple[str, str]:
        with reading(service.engine) as session:
            return live.household_mark(session, home), live.household_mark(session, other)

    before = marks()
    with writing(service.engine) as session:
        house = session.get_one(Household, home)
        make_message(session, service, house, session.exec(select(Contact)).first(), body="new")  # type: ignore[arg-type]
    after = marks()
    assert (before[0] == after[0], before[1] == after[1]) == (False, True)


async def heard(service: Service, who: SignedIn, marks: list[str], most: int, seen: str = "a") -> list[str]:
    left = iter(marks)
    found = []
    async for event in live.changes(service, who, seen, lambda: next(left), lambda: False):
        found.append(event)
        if len(found) == most:
            break
    return found


def test_a_stream_tells_a_change_once_and_what_came_before_it_opened(
    service: Service, desk: Seat, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live, "EVERY_SECONDS", 0.0)
    who = signed_in(service, desk("rivera"))
    events = asyncio.run(heard(service, who, ["b", "b", "c", "c"], 4))
    assert events == [live.CHANGED, live.STILL_HERE, live.CHANGED, live.STILL_HERE]


@pytest.mark.parametrize("how", ["signed out", "expired", "disabled"])
def test_a_stream_ends_with_its_session(
    service: Service, desk: Seat, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    monkeypatch.setattr(live, "EVERY_SECONDS", 0.0)
    monkeypatch.setattr(live, "SESSION_LOOKED_AT_EVERY", 0.0)
    who = signed_in(service, desk("rivera"))
    past = dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1)
    if how == "signed out":
        sign_out(service, who.token_key)
    elif how == "expired":
        with writing(service.engine) as session:
            session.execute(update(AgentSession).values(expires_at=past))
    else:
        with writing(service.engine) as session:
            session.get_one(type(who.agent), who.agent.id).disabled_at = past
    assert asyncio.run(heard(service, who, ["a"] * 9, 9)) == [live.STILL_HERE, live.ENDED]


def test_streams_are_few_for_each_session_and_come_free_again() -> None:
    streams = live.Streams()
    assert [streams.enter("one") for _ in range(live.MOST_OF_A_SESSION + 1)] == [True] * live.MOST_OF_A_SESSION + [
        False
    ]
    assert streams.enter("two")
    streams.leave("one")
    assert streams.enter("one")


def test_many_streams_look_into_the_database_once(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    looks = []
    monkeypatch.setattr(live, "waiting_mark", lambda _session: looks.append(1) or "m")
    watch = live.Watch(service)
    assert [watch.now() for _ in range(50)] == ["m"] * 50
    assert len(looks) == 1


def test_a_part_asked_for_after_the_session_leads_the_page_to_sign_in(service: Service, desk: Seat) -> None:
    seat = desk("rivera")
    sign_out(service, signed_in(service, seat).token_key)
    answer = seat.client.get("/console/waiting", headers={"HX-Request": "true"})
    assert (answer.status_code, answer.headers["hx-redirect"]) == (401, "/console/sign-in")


def test_the_part_holds_the_list_and_nothing_of_another_office(service: Service, desk: Seat) -> None:
    one_household(service)
    part = desk("rivera").see("/console/waiting")
    assert "can someone call me" in part
    assert "<html" not in part
    assert "1 waiting. Newest, urgent: Asked for a person, Millrace." in part
    assert "Nobody is waiting." in desk("holt", "upper").see("/console/waiting")


def test_two_agents_at_one_instant_and_one_has_it(service: Service, desk: Seat) -> None:
    """Both pages showed it as free; the second claim changes nothing and says so."""
    _, escalation = one_household(service)
    first, second = desk("rivera"), desk("chief", coordinator=True)
    with writing(service.engine) as session:
        row = session.get_one(Escalation, escalation)
        stale = Escalation(**row.model_dump())
        assert escalations.claim(session, service, signed_in(service, first), row)
    with writing(service.engine) as session:
        row = session.get_one(Escalation, escalation)
        assert stale.state == "waiting"
        assert not escalations.claim(session, service, signed_in(service, second), row)
    assert "claimed by Rivera" in second.see("/console/waiting")
