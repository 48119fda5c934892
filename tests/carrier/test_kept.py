"""Recordings and pictures in the county's account: fetched and erased with its sign-in, which goes nowhere else."""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest
import respx

from guide_service.carrier import kept
from guide_service.carrier.kept import API, NotToBeHad, resource_of
from guide_service.carrier.sending import CarrierSender
from tests.carrier.test_sending import ACCOUNT, NUMBER, TOKEN

WORD = f"Recordings/RE{'1' * 32}"
PICTURE = f"Messages/MM{'2' * 32}/Media/ME{'3' * 32}"
HERE = f"{API}/{ACCOUNT}"


@pytest.fixture
def sender() -> Iterator[CarrierSender]:
    made = CarrierSender(ACCOUNT, TOKEN, NUMBER)
    yield made
    made.close()


@pytest.mark.parametrize("resource", [WORD, PICTURE])
def test_what_is_ours_is_known_by_its_address(resource: str) -> None:
    assert resource_of(f"{HERE}/{resource}", ACCOUNT) == resource


@pytest.mark.parametrize(
    "address",
    [
        "",
        f"http://api.twilio.com/2010-04-01/Accounts/{ACCOUNT}/{WORD}",
        f"https://api.twilio.com.example/2010-04-01/Accounts/{ACCOUNT}/{WORD}",
        f"https://user@api.twilio.com/2010-04-01/Accounts/{ACCOUNT}/{WORD}",
        f"{API}/AC{'9' * 32}/{WORD}",
        f"{HERE}/{WORD}/../../Calls",
        f"{HERE}/Messages/MM{'2' * 32}",
        f"{HERE}/{WORD}?x=1",
        "https://169.254.169.254/latest",
    ],
)
def test_no_other_address_is(address: str) -> None:
    assert resource_of(address, ACCOUNT) is None


def test_a_recording_is_fetched_with_the_accounts_sign_in(sender: CarrierSender) -> None:
    with respx.mock as carrier:
        sound = httpx.Response(200, content=b"sound", headers={"Content-Type": "audio/mpeg"})
        route = carrier.get(f"{HERE}/{WORD}.mp3").mock(return_value=sound)
        found = sender.fetch(WORD)
    assert found is not None
    assert (found.content, found.type) == (b"sound", "audio/mpeg")
    assert route.calls.last.request.headers["Authorization"].startswith("Basic ")


def test_the_sign_in_does_not_go_to_where_a_picture_lies(sender: CarrierSender) -> None:
    with respx.mock as carrier:
        there = "https://pictures.example/3"
        carrier.get(f"{HERE}/{PICTURE}").mock(return_value=httpx.Response(307, headers={"Location": there}))
        picture = httpx.Response(200, content=b"jpeg", headers={"Content-Type": "image/jpeg; charset=x"})
        route = carrier.get(there).mock(return_value=picture)
        found = sender.fetch(PICTURE)
    assert found is not None
    assert found.type == "image/jpeg"
    assert "Authorization" not in route.calls.last.request.headers


def test_what_is_gone_is_gone_and_what_cannot_be_had_is_said(
    sender: CarrierSender, monkeypatch: pytest.MonkeyPatch
) -> None:
    with respx.mock as carrier:
        route = carrier.get(f"{HERE}/{WORD}.mp3")
        route.mock(return_value=httpx.Response(404))
        assert sender.fetch(WORD) is None
        for failure in (httpx.Response(500), httpx.Response(401), httpx.ReadTimeout("late")):
            route.mock(side_effect=[failure])
            with pytest.raises(NotToBeHad):
                sender.fetch(WORD)
        monkeypatch.setattr(kept, "MOST_BYTES", 4)
        route.mock(return_value=httpx.Response(200, content=b"12345"))
        with pytest.raises(NotToBeHad, match="too large"):
            sender.fetch(WORD)


@pytest.mark.parametrize("resource", [WORD, PICTURE, f"Messages/SM{'4' * 32}"])
def test_it_is_erased_there_or_was(sender: CarrierSender, resource: str) -> None:
    with respx.mock as carrier:
        route = carrier.delete(f"{HERE}/{resource}.json")
        for answer in (httpx.Response(204), httpx.Response(404)):
            route.mock(return_value=answer)
            sender.erase(resource)
        for failure in (httpx.Response(500), httpx.Response(429), httpx.Response(401), httpx.ConnectError("away")):
            route.mock(side_effect=[failure])
            with pytest.raises(NotToBeHad):
                sender.erase(resource)
    assert route.calls.last.request.headers["Authorization"].startswith("Basic ")


def test_nothing_else_of_the_account_is_erased(sender: CarrierSender) -> None:
    with pytest.raises(ValueError, match="no recording"):
        sender.erase("IncomingPhoneNumbers/PN1")
