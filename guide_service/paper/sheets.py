"""What stands on the card and on the log sheet in one language: words and figures, no layout.

Figures come from the county's policy and file, the number from the settings, every sentence from the catalogue.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from guide_service.county import County
from guide_service.dialogue.saying import Argument, Say
from guide_service.drying.policy import Policy
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.formats import capital, direction
from guide_service.wording.render import render

CARE = ("power", "gas", "fumes", "mold", "old_house")
COMMANDS = ("readings", "status", "why", "undo", "mold", "meter", "person", "stop")
SPOTS = ("plate", "low_stud", "mid_stud", "sheathing")
"""In the order of their numbers in the drawing, and of the numbers in a text of readings."""
_HEAD = re.compile(r"(?P<head>[^:\N{FULLWIDTH COLON}]+?)\s*[:\N{FULLWIDTH COLON}]\s*(?P<rest>.+)")
_MARK = "\N{LEFT-TO-RIGHT MARK}"
_DIALLED = re.compile(r"\d+(?:-\d+)+")
"""Among letters that run from the right the parts of such a number would be read in the wrong order."""
_EXAMPLE_PLACE = "K1"

Words = Callable[..., str]
Pair = tuple[str, str]
"""A word in large print, and what is said of it."""


@dataclass(frozen=True, slots=True)
class BandLine:
    band: str
    """``wet``, ``caution`` or ``dry``: which mark stands before it."""
    word: str
    range: str
    do: str


@dataclass(frozen=True, slots=True)
class Head:
    """What begins every sheet: which it is, whose, and the number to text."""

    language: str
    rtl: bool
    title: str
    office: str
    text_us: str
    number: str


@dataclass(frozen=True, slots=True)
class Card:
    head: Head
    or_call: str
    picture: str
    grain: str
    spots: tuple[Pair, ...]
    how_title: str
    how: tuple[str, ...]
    send_title: str
    example: str
    send: tuple[str, ...]
    words_title: str
    commands: tuple[Pair, ...]
    meaning_title: str
    bands: tuple[BandLine, ...]
    wait: str
    care_title: str
    care: tuple[Pair, ...]
    emergency: str
    no_certificate: str


@dataclass(frozen=True, slots=True)
class LogSheet:
    head: Head
    whose: str
    meter: str
    page: str
    columns: tuple[str, ...]
    """Date, place, the three points of a bay, another point, who, meter, texted."""
    lines: tuple[str, ...]
    no_certificate: str


@dataclass(frozen=True, slots=True)
class Source:
    """All that a sheet is made from."""

    catalogues: Catalogues
    county: County
    policy: Policy
    number: str
    """The number that households text, E.164."""


def card(source: Source, language: str) -> Card:
    words = _words(source, language)
    return Card(
        head=_head(source, language, words, "paper.card_title"),
        or_call=words("paper.or_call"),
        picture=words("paper.picture"),
        grain=words("paper.grain"),
        spots=tuple((capital(words(f"point.{spot}")), words(f"paper.spot_{spot}")) for spot in SPOTS),
        how_title=words("paper.how_title"),
        how=tuple(words(f"paper.how_{step}") for step in ("setting", "push", "same", "wash")),
        send_title=words("paper.send_title"),
        example=words("paper.send_example"),
        send=(words("paper.send_order"), words("paper.send_over")),
        words_title=words("paper.words_title"),
        commands=tuple(_pair(words(f"paper.word_{command}")) for command in COMMANDS),
        meaning_title=words("paper.meaning_title"),
        bands=tuple(_band(words, band) for band in ("wet", "caution", "dry")),
        wait=words("paper.wait_for_us"),
        care_title=words("paper.care_title"),
        care=tuple(_pair(words(f"paper.care_{danger}")) for danger in CARE),
        emergency=words("paper.emergency"),
        no_certificate=words("paper.no_certificate"),
    )


def log_sheet(source: Source, language: str) -> LogSheet:
    words = _words(source, language)
    points = tuple(f"{number} {words(f'paper.log_{spot}')}" for number, spot in enumerate(SPOTS[:3], 1))
    before = (words("paper.log_date"), words("paper.log_place"))
    after = tuple(words(f"paper.log_{column}") for column in ("other", "who", "which_meter", "texted"))
    return LogSheet(
        head=_head(source, language, words, "paper.log_title"),
        whose=words("paper.log_whose"),
        meter=words("paper.log_meter"),
        page=words("paper.page"),
        columns=(*before, *points, *after),
        lines=tuple(words(f"paper.{line}") for line in ("log_line", "log_send", "log_send_day")),
        no_certificate=words("paper.no_certificate"),
    )


def written_from_the_right(language: str) -> bool:
    return direction(language) == "rtl"


def as_dialled(number: str) -> str:
    """An E.164 number as people of its country write it: 202-555-0100."""
    found = re.fullmatch(r"\+1(\d{3})(\d{3})(\d{4})", number)
    return "-".join(found.groups()) if found else number


def _words(source: Source, language: str) -> Words:
    """Messages of the catalogue, with the county's figures in their places."""
    county, policy = source.county, source.policy
    rtl = written_from_the_right(language)
    figures: dict[str, Argument] = {
        "limit": policy.dry_below_mc,
        "wet_limit": policy.wet_above_mc,
        "old_house": str(county.guidance.old_house),
        "emergency": county.emergency_number,
        "callback": county.call_back,
        "place": _EXAMPLE_PLACE,
    }

    def words(message_id: str) -> str:
        # as a voice would have it: nothing is made to fit the alphabet of text messages
        said = render(Say(message_id, figures), language, source.catalogues, spoken=True)
        return _DIALLED.sub(rf"{_MARK}\g<0>{_MARK}", said) if rtl else said

    return words


def _head(source: Source, language: str, words: Words, title: str) -> Head:
    return Head(
        language=language,
        rtl=written_from_the_right(language),
        title=words(title),
        office=source.county.office_name,
        text_us=words("paper.text_us"),
        number=as_dialled(source.number),
    )


def _band(words: Words, band: str) -> BandLine:
    return BandLine(band, words(f"paper.band_{band}"), words(f"paper.range_{band}"), words(f"paper.do_{band}"))


def _pair(text: str) -> Pair:
    """A text that names a word first: "UNDO: take back ..."; without a colon all of it is the word."""
    found = _HEAD.fullmatch(text)
    return (found["head"], found["rest"]) if found else (text, "")
