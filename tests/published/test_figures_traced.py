"""Every figure that a text tells a household stands in a line of ``docs/recovery-order.md`` with whose figure it is.

A figure is a number with a unit, a ratio, a range with a unit, a year, a telephone number, or any number of two and
more digits; the county's figures are filled in as the shipped county file has them. What is no figure, by rule:

    examples    what follows "like" up to the end of its sentence, and readings after a place ("K1 22 19 17")
    answers     a single digit without a unit: the number of an answer ("Text 1", "0 gets a person") or a count
    limits      how much one answer may hold ("one number from 1 to 60"): texts named in ``INPUT_LIMITS``
    names       letters and digits in one ("N95", "K1")
    the county  its own numbers to call, which its file holds (``callback``)
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fnmatch import fnmatch
from pathlib import Path
from typing import NamedTuple

import pytest

from guide_service.county import County, read_county
from guide_service.settings import FLOWS_DIR
from guide_service.wording.messages import Message, load_messages

ROOT = Path(__file__).parents[2]
DOC = ROOT / "docs" / "recovery-order.md"
COUNTY = read_county(ROOT / "guide_service" / "larkwater.toml")
INPUT_LIMITS = ("places.bays_range", "places.spots_range", "places.which_range")

_UNIT = (
    r"(?:square feet|feet|foot|inch(?:es)?|cups?|gallons?|tablespoons?|percent|minutes?|hours?|days?|weeks?|months?|"
    r"years?|pounds?)"
)
_NUMBER = r"(?:1-\d{3}-\d{3}-\d{4}|\d+/\d+|\d+(?:\.\d+)?(?: (?:to|by|or) \d+)?)"
_FIGURE = re.compile(rf"(?<![\w./-])({_NUMBER})(?![\w/]|-\d|\.\d)(?: (?:more )?({_UNIT})\b)?")
_IN_WORDS = re.compile(
    rf"\b((?:one|two|three|four|five|six|seven|eight|nine|ten|half|a third|a quarter) (?:of it|{_UNIT}))\b"
)
_EXAMPLE = re.compile(r"\blike:? [^.?]*|%\((?:place|list|example)\)s(?: with its number)?(?:,? \d+)+")
_PLACE = re.compile(r"%\((\w+)\)s")
_ROW = re.compile(r"^\| (F\d+) \| ([^|]+) \| ([^|]+) \| ([^|]+) \| ([^|]+) \| ([^|]*)\|$", re.MULTILINE)


class Line(NamedTuple):
    id: str
    figure: str
    said_in: tuple[str, ...]
    whose: str
    source: str
    in_the_county_file: str


def lines() -> list[Line]:
    found = _ROW.findall(DOC.read_text(encoding="utf-8"))
    return [
        Line(id_, figure.strip(), tuple(re.split(r",\s*", said.strip())), whose.strip(), source.strip(), county.strip())
        for id_, figure, said, whose, source, county in found
    ]


def county_values(county: County) -> dict[str, str]:
    guidance = county.guidance.figures()
    numbers = {line.id: line.number for line in county.help_lines}
    return {
        "cut_inches": str(guidance.cut_inches),
        "board_feet": str(guidance.board_feet),
        "pump_share": f"1/{guidance.pump_parts}",
        "pump_feet": str(guidance.pump_feet),
        "bleach_cups": guidance.bleach_cups,
        "bleach_gallons": guidance.bleach_gallons,
        "bleach_spoons": guidance.bleach_spoons,
        "mold_feet": str(guidance.mould_feet),
        "old_house": str(guidance.old_house),
        "dry_days": str(guidance.dry_days),
        "look_weeks": str(guidance.look_back_days // 7),
        "limit": f"{county.limits.dry_below_mc:g}",
        "wet_limit": f"{county.limits.wet_above_mc:g}",
        "emergency": county.emergency_number,
        "distress_line": numbers["distress"],
        "poison_line": numbers["poison"],
        "referral_line": numbers["referral"],
    }


def figures(text: str) -> Iterator[str]:
    """The figures of a text, as they are read: "12 inches", "1/3", "30 to 60 percent", "1980", "911"."""
    values = county_values(COUNTY)
    plain = _PLACE.sub(lambda place: values.get(place[1], "-"), _EXAMPLE.sub("", text))
    for number, unit in _FIGURE.findall(plain):
        if unit or "/" in number or (sum(ch.isdigit() for ch in number) > 1 and " " not in number):
            yield f"{number} {unit}".strip()
    yield from _IN_WORDS.findall(plain)


def texts(message: Message) -> list[str]:
    return [text for text in (message.text, message.plural, message.spoken) if text]


def said() -> dict[tuple[str, str], Message]:
    found = {}
    for message in load_messages(FLOWS_DIR).values():
        if message.id not in INPUT_LIMITS:
            for text in texts(message):
                found.update({(message.id, figure): message for figure in figures(text)})
    return found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Cut %(cut_inches)s inches up, 20 feet or more off, for 30 minutes.", ["12 inches", "20 feet", "30 minutes"]),
        ("Aim for 30 to 60 percent. Bigger than 3 by 3 feet.", ["30 to 60 percent", "3 by 3 feet"]),
        ("Pump %(pump_share)s a day. Built before 1980. Call %(emergency)s.", ["1/3", "1980", "911"]),
        ("Text %(place)s 22 19 17, or K1 22, like over 30. Text 1 or 0. An N95 mask.", ["22"]),
        ("Wait two days.", ["two days"]),
        ("Call %(distress_line)s.", ["1-800-985-5990"]),
        ("1 cup in 5 gallons", ["1 cup", "5 gallons"]),
    ],
)
def test_what_counts_as_a_figure(text: str, found: list[str]) -> None:
    assert list(figures(text)) == found


def test_every_figure_of_a_text_is_traced_to_a_line() -> None:
    rows = lines()
    untraced = [
        f"{message.place} {id_}: {figure!r}"
        for (id_, figure), message in said().items()
        if not any(row.figure == figure and any(fnmatch(id_, name) for name in row.said_in) for row in rows)
    ]
    assert untraced == []


def test_every_line_is_said_where_it_says() -> None:
    pairs = list(said())
    idle = [
        f"{row.id} {row.figure!r}: {name}"
        for row in lines()
        for name in row.said_in
        if not any(figure == row.figure and fnmatch(id_, name) for id_, figure in pairs)
    ]
    assert idle == []


def test_every_line_names_its_source_and_stands_once() -> None:
    rows = lines()
    assert len(rows) > 25
    assert len({row.id for row in rows}) == len(rows)
    unsourced = [row.id for row in rows if not re.search(r"https?://|from memory|common practice|county", row.source)]
    assert unsourced == []


def test_every_figure_of_the_county_file_has_a_line() -> None:
    named = {name.strip("` ") for row in lines() for name in row.in_the_county_file.split(",")}
    wanted = {f"guidance.{name}" for name in type(COUNTY.guidance).model_fields if name != "sources"}
    assert wanted - named == set()


def test_all_thirteen_disagreements_are_decided() -> None:
    found = re.findall(
        r"^\| (\d+) \| [^|]+ \| [^|]+ \| [^|]+ \| [^|]+ \|$", DOC.read_text(encoding="utf-8"), re.MULTILINE
    )
    assert found == [str(number) for number in range(1, 14)]
