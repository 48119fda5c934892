"""``locales recordings``: the list for the person who speaks a language's recordings, and a check of their files."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

from guide_service.county import County, read_county
from guide_service.settings import FLOWS_DIR, LOCALES_DIR
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.messages import load_messages
from guide_service.wording.recorded import FOLDER, part_of, recorded_parts
from guide_service.wording.recordings import Wanted, wanted, wrong_with

COLUMNS = ("file", "say", "before it", "after it", "safety", "note", "recorded")


def print_list(language: str, county_file: Path) -> None:
    """CSV, the texts of safety first."""
    there = recorded_parts(LOCALES_DIR, language)
    out = csv.writer(sys.stdout)
    out.writerow(COLUMNS)
    for each in _wanted(language, county_file):
        safety, done = "yes" if each.safety else "", "yes" if each.part in there else ""
        out.writerow((each.file, each.words, each.before, each.after, safety, each.note, done))


def check_recordings(language: str, county_file: Path) -> bool:
    """Prints a line for each fault and how much is there; whether every file that is there is in order."""
    known, folder = {each.part: each for each in _wanted(language, county_file)}, LOCALES_DIR / language / FOLDER
    faults = 0
    files = sorted(folder.glob("*.wav"))
    for path in files:
        one = known.get(part_of(path.name))
        wrong = wrong_with(path, one.words) if one else ("no text needs it",)
        faults += bool(wrong)
        for problem in wrong:
            print(f"{path.name}: {problem}")
    there = len(known.keys() & recorded_parts(LOCALES_DIR, language))
    print(f"{there} of {len(known)} recorded, {faults} of {len(files)} files to be looked at.")
    return not faults


def _wanted(language: str, county_file: Path) -> tuple[Wanted, ...]:
    messages = load_messages(FLOWS_DIR)
    return wanted(language, Catalogues.load(LOCALES_DIR, messages, [language]), _names(read_county(county_file)))


def _names(county: County) -> list[str]:
    """The county's own words that calls say."""
    areas, offices = [area.name for area in county.areas], [office.name for office in county.offices]
    return [county.office_name, county.name, *offices, *areas, *(place.name for place in county.meter_places)]
