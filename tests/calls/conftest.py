"""Calls of Larkwater: one exchange on a fresh database, and houses in the middle of their work."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine

from guide_service.carrier.recording import RecordingSender
from guide_service.clock import FixedClock
from guide_service.database import writing
from guide_service.records import Conversation, Household, Membership, PlaceRow, WallRow
from guide_service.settings import LOCALES_DIR
from guide_service.wiring import Service
from guide_service.wording.recorded import FOLDER, file_of
from guide_service.wording.recordings import wanted
from tests.calls.phone import Exchange
from tests.conftest import offering
from tests.people import NUMBER, add_person

SPOKEN = ("en", "es", "fr", "vi", "ar", "zh")
"""Languages with a synthesised voice."""
RECORDED = ("ht", "so")


@pytest.fixture
def exchange(service: Service) -> Exchange:
    return Exchange(offering(service, *SPOKEN, *RECORDED))


@pytest.fixture(scope="session")
def recorded_locales(wired: Service, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All that the lists ask for is recorded."""
    folder = tmp_path_factory.mktemp("recorded") / "locales"
    folder.mkdir()
    for each in LOCALES_DIR.iterdir():
        if each.name in RECORDED:
            shutil.copytree(each, folder / each.name)
        else:
            (folder / each.name).symlink_to(each)
    county = wired.county
    for language in RECORDED:
        (folder / language / FOLDER).mkdir(exist_ok=True)
        for one in wanted(
            language, wired.catalogues, [county.office_name, county.name, *(a.name for a in county.areas)]
        ):
            (folder / language / FOLDER / file_of(one.part)).touch()
    return folder


@pytest.fixture
def one_exchange(wired: Service, sqlite_engine: Engine, clock: FixedClock, sender: RecordingSender) -> Exchange:
    """On one database: for what is the same in each language but its words."""
    return Exchange(offering(wired.on(sqlite_engine, clock=clock, sender=sender), *SPOKEN, *RECORDED))


def house_with_places(
    service: Service, number: str = NUMBER, places: int = 6, language: str = "en", **household: Any
) -> tuple[int, int]:
    """Contact and household whose kitchen is measured at K1, K2 ...; the walls were washed long ago."""
    contact_id, household_id = add_person(service, number, language=language, last_heard_at=service.clock.now())
    with writing(service.engine) as session:
        home = session.get_one(Household, household_id)
        home.facts = {"washed_on": "2027-01-02", "meter": {"have": True, "kind": "pins"}}
        home.stage, home.language = "measure", language
        for name, value in household.items():
            setattr(home, name, value)
        wall = WallRow(household_id=household_id, letter="K", name="kitchen", bays=12, created_at=service.clock.now())
        session.add(wall)
        session.flush()
        for n in range(1, places + 1):
            session.add(
                PlaceRow(household_id=household_id, wall_id=wall.id, label=f"K{n}", created_at=service.clock.now())
            )
    return contact_id, household_id


def joined(service: Service, contact_id: int, household_id: int, state: str = "home.rest") -> None:
    """This phone is a member of that house as well."""
    now = service.clock.now()
    with writing(service.engine) as session:
        session.add(Membership(contact_id=contact_id, household_id=household_id, role="owner", joined_at=now))
        session.add(Conversation(contact_id=contact_id, household_id=household_id, state=state, updated_at=now))
