"""Calls in languages that a person has recorded: the same calls by keys, and every piece of them is a recording."""

from __future__ import annotations

import shutil
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path
from urllib.parse import unquote

import pytest

from guide_service.records import Contact, Conversation, Household
from guide_service.settings import LOCALES_DIR
from guide_service.wiring import Service
from guide_service.wording.recorded import FOLDER, file_of
from guide_service.wording.recordings import wanted
from tests.calls.conftest import RECORDED, SPOKEN, house_with_places
from tests.calls.phone import Exchange, Phone
from tests.calls.test_whole_calls import FIRST_CALL, RIGHT, SIX_PLACES, begin_check, readings_of
from tests.conftest import offering
from tests.people import rows


@pytest.fixture
def recorded(service: Service, tmp_path: Path) -> Exchange:
    """A county in which all is recorded that the lists ask for."""
    folder = tmp_path / "locales"
    folder.mkdir()
    for each in LOCALES_DIR.iterdir():
        (folder / each.name).symlink_to(each)
    for language in RECORDED:
        (folder / language).unlink()
        shutil.copytree(LOCALES_DIR / language, folder / language)
        there = folder / language / FOLDER
        there.mkdir()
        names = [service.county.office_name, service.county.name, *(area.name for area in service.county.areas)]
        for one in wanted(language, service.catalogues, names):
            (there / file_of(one.part)).touch()
    return Exchange(offering(replace(service, locales=folder), *SPOKEN, *RECORDED))


def played(phone: Phone) -> list[str]:
    """Files of this answer; nothing may be spoken by a machine."""
    assert phone.document is not None
    assert list(phone.document.iter("Say")) == [], ET.tostring(phone.document, "unicode")
    return [unquote((play.text or "").rpartition("/")[2]) for play in phone.document.iter("Play")]


@pytest.mark.parametrize("language", RECORDED)
def test_a_first_call_in_recordings(recorded: Exchange, language: str) -> None:
    phone = recorded.call()
    at = (*SPOKEN, *RECORDED).index(language)
    for _ in range(at // 4):
        phone.key("#")
    phone.key(str(at % 4 + 1))
    for key in FIRST_CALL:
        assert played(phone)
        phone.key(key)
    assert played(phone)
    assert rows(recorded.service, Contact)[0].language == language
    assert rows(recorded.service, Household)[0].address == "14"
    assert rows(recorded.service, Conversation)[0].state == "order.power"


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
