"""Calls in languages that a person has recorded: the same calls by keys, and every piece of them is a recording."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path
from urllib.parse import unquote

import pytest

from guide_service.records import Household
from tests.calls.conftest import RECORDED, house_with_places
from tests.calls.phone import Exchange, Phone
from tests.calls.test_whole_calls import RIGHT, SIX_PLACES, begin_check, readings_of
from tests.people import rows


@pytest.fixture
def recorded(one_exchange: Exchange, recorded_locales: Path) -> Exchange:
    return Exchange(replace(one_exchange.service, locales=recorded_locales))


def played(phone: Phone) -> list[str]:
    """Files of this answer; nothing may be spoken by a machine."""
    assert phone.document is not None
    assert list(phone.document.iter("Say")) == [], ET.tostring(phone.document, "unicode")
    return [unquote((play.text or "").rpartition("/")[2]) for play in phone.document.iter("Play")]


@pytest.mark.parametrize("language", RECORDED)
def test_a_full_check_in_recordings(recorded: Exchange, language: str) -> None:
    house_with_places(recorded.service, language=language)
    phone = recorded.call()
    begin_check(phone)
    for _ in range(6):
        assert "letter--K.wav" in played(phone)
        phone.key("221917")
        assert {"number--22.wav", "number--19.wav", "number--17.wav"} <= set(played(phone))
        phone.key(RIGHT)
    assert readings_of(recorded) == SIX_PLACES
    assert rows(recorded.service, Household)[0].wet == 6
    assert played(phone)
