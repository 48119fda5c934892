"""A ninth language is files in a folder and its code in the county file: no line of the program knows it."""

from __future__ import annotations

import datetime as dt
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from guide_service import wiring
from guide_service.carrier.recording import RecordingSender
from guide_service.clock import FixedClock
from guide_service.database import make_engine
from guide_service.settings import EXAMPLE_COUNTY, FLOWS_DIR, read_settings
from guide_service.wiring import Service, build_service
from guide_service.wording import formats, own_formats
from guide_service.wording.maintenance import check
from tests.conftest import MONDAY_NOON
from tests.conversations.ninth import CODE, add_to, spoken
from tests.conversations.script import read_script
from tests.conversations.stage import Stage
from tests.conversations.test_every_language import NAMED, SCRIPTS
from tests.turn.conftest import service_on

TYPED = {
    "hello": "hello there", "yes": "yes", "no": "no", "owner": "i own the home", "address": "12 Weir St",
    "places": "places", "kitchen": "kitchen", "two": "two", "that_is_all": "that is all", "have_meter": "i have one",
    "skip": "skip", "status": "status", "reading_one": "twenty two", "reading_two": "nineteen",
    "reading_three": "fourteen and a half", "danger_gas": "i smell gas in the kitchen",
    "danger_life": "my husband is trapped in the basement", "nobody_is_hurt": "nobody is hurt thank god",
    "fireplace": "can i use the fireplace to dry the wall", "stop_in_a_sentence": "please stop texting me",
    "mould": "there is mold on the wall", "person": "i want to talk to a person", "name_of_language": "english",
    "asks_for_language": "english please",
}  # fmt: skip
NOT_TRANSLATED = {"address": "12 Weir St", "letter": spoken("k").upper(), "language": CODE}


@pytest.fixture(scope="module")
def ninth(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """The service on a folder that holds English and the language that nobody speaks."""
    locales = tmp_path_factory.mktemp("ninth") / "locales"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(own_formats, "LOCALES", locales)
        patch.setattr(wiring, "LOCALES_DIR", locales)
        add_to(locales)
        county = locales.parent / "county.toml"
        offered = re.sub(
            r"(?m)^languages = \[.*?\]", f'languages = ["en", "{CODE}"]', EXAMPLE_COUNTY.read_text("utf-8")
        )
        county.write_text(offered, encoding="utf-8")
        settings = read_settings(demo=True, database_url="sqlite:///:memory:", county_file=county)
        yield build_service(settings, clock=FixedClock(MONDAY_NOON), sender=RecordingSender())


def test_its_texts_pass_every_check(ninth: Service) -> None:
    report = check(FLOWS_DIR, own_formats.LOCALES, [CODE])
    assert [str(problem) for problem in report.problems if problem.language == CODE] == []
    assert report.lacking[CODE] == {}
    assert [lack for lack in ninth.catalogues.missing if lack.language == CODE] == []


def test_its_days_lists_and_name_are_its_own(ninth: Service) -> None:
    assert CODE in ninth.lexicons
    assert formats.short_date(dt.date(2026, 12, 1), CODE, True) == f"{spoken('Tue')} {spoken('Dec')} 1"
    assert formats.joined(["K1", "K2"], CODE) == f"K1{spoken(', and ')}K2"
    assert formats.own_name(CODE) == spoken("English")


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.stem)
def test_a_conversation_is_held_in_it(ninth: Service, path: Path, sqlite_template: Path, tmp_path: Path) -> None:
    words = {name: spoken(text) for name, text in TYPED.items()} | NOT_TRANSLATED
    script = tmp_path / f"{path.stem}_{CODE}.txt"
    script.write_text(NAMED.sub(lambda found: words[found[1]], path.read_text("utf-8")), encoding="utf-8")
    shutil.copyfile(sqlite_template, tmp_path / "guide.db")
    engine = make_engine(f"sqlite:///{tmp_path / 'guide.db'}")
    read = read_script(script)
    service = service_on(ninth, engine, MONDAY_NOON, read.languages)
    Stage(replace(service), read).play()
    engine.dispose()
