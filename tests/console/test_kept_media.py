"""A message that a caller left is heard on the page of the household, by whoever may see it and by nobody else."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from guide_service.carrier.kept import API, Kept, NotToBeHad
from guide_service.carrier.recording import RecordingSender
from guide_service.console.access import POLICY
from guide_service.database import writing
from guide_service.records import Audit, Message
from guide_service.wiring import Service
from tests.console.conftest import Desk, audited
from tests.people import add_person, rows

WORD, PICTURE = f"Recordings/RE{'1' * 32}", f"Messages/MM{'2' * 32}/Media/ME{'3' * 32}"
Seat = Callable[..., Desk]


@pytest.fixture
def left(service: Service) -> tuple[int, int]:
    """Household and message."""
    contact_id, household_id = add_person(service)
    account = f"{API}/{service.settings.account_sid}"
    media = [{"url": f"{account}/{WORD}", "type": "audio/mpeg"}, {"url": f"{account}/{PICTURE}", "type": "image/jpeg"},
             {"url": "https://pictures.example/1", "type": "image/jpeg"}]  # fmt: skip
    with writing(service.engine) as session:
        row = Message(contact_id=contact_id, household_id=household_id, direction="in", origin="person", body="",
                      channel="call", at=service.clock.now(), media=media)  # fmt: skip
        session.add(row)
        session.flush()
        return household_id, row.id


def test_it_is_heard_on_the_page_and_the_look_is_written_down(
    service: Service, sender: RecordingSender, desk: Seat, left: tuple[int, int]
) -> None:
    household, message = left
    sender.kept = {WORD: Kept(b"sound", "audio/mpeg"), PICTURE: Kept(b"jpeg", "image/jpeg")}
    agent = desk("rivera")
    page = agent.see(f"/console/households/{household}")
    address = f"/console/messages/{message}/kept/1"
    assert f'src="{address}"' in page
    assert "api.twilio.com" not in page
    assert "https://pictures.example/1" in page, "what lies elsewhere is a link, as ever"
    answer = agent.client.get(address)
    assert (answer.content, answer.headers["content-type"]) == (b"sound", "audio/mpeg")
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["content-security-policy"] == POLICY
    assert agent.client.get(f"/console/messages/{message}/kept/2").content == b"jpeg"
    (heard, seen) = [row for row in rows(service, Audit) if row.action == "heard_or_seen"]
    assert (heard.household_id, heard.detail) == (household, {"message": str(message)})
    assert seen.agent_id == agent.agent.id


def test_sound_of_our_own_may_be_played_and_nothing_else(desk: Seat) -> None:
    assert "media-src 'self'" in POLICY
    assert POLICY.startswith("default-src 'none'")


def test_an_agent_of_another_office_hears_nothing(
    service: Service, sender: RecordingSender, desk: Seat, left: tuple[int, int]
) -> None:
    sender.kept = {WORD: Kept(b"sound", "audio/mpeg")}
    desk("holt", "upper").see(f"/console/messages/{left[1]}/kept/1", 404)
    assert "heard_or_seen" not in audited(service)


@pytest.mark.parametrize("number", ["0", "3", "4", "x", "-1", "1e9"])
def test_what_is_not_at_the_carrier_is_not_fetched(desk: Seat, left: tuple[int, int], number: str) -> None:
    desk("rivera").see(f"/console/messages/{left[1]}/kept/{number}", 404)


def test_what_the_carrier_has_no_more_or_does_not_give(
    sender: RecordingSender, desk: Seat, left: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    agent, address = desk("rivera"), f"/console/messages/{left[1]}/kept/1"
    agent.see(address, 404)

    def silent(_resource: str) -> None:
        raise NotToBeHad("HTTP 500")

    monkeypatch.setattr(sender, "fetch", silent)
    agent.see(address, 502)


def test_what_no_page_shows_is_handed_over_as_a_file(
    sender: RecordingSender, desk: Seat, left: tuple[int, int]
) -> None:
    sender.kept = {PICTURE: Kept(b"<svg onload='x()'/>", "image/svg+xml")}
    answer = desk("rivera").client.get(f"/console/messages/{left[1]}/kept/2")
    assert answer.headers["content-type"] == "application/octet-stream"
    assert answer.headers["content-disposition"] == "attachment"
