"""The agents' handbook (``docs/agents-handbook.md``) as a page: its sections with addresses, its pictures as ours.

The file is CommonMark with tables; HTML in it is not passed through. A heading's address is made of its words, as
common viewers of such files make it, so that one link works here and there.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

from markdown_it import MarkdownIt
from markdown_it.token import Token
from markupsafe import Markup

from guide_service.settings import ROOT

FILE = ROOT / "docs" / "agents-handbook.md"
PICTURES = ROOT / "docs" / "pictures"
ADDRESS = "/console/handbook"


@dataclass(frozen=True, slots=True)
class Section:
    """A heading: its address in the page, its words, its depth (1 = the title)."""

    id: str
    words: str
    depth: int


@dataclass(frozen=True, slots=True)
class Handbook:
    sections: tuple[Section, ...]
    pictures: frozenset[str]
    """File names in ``docs/pictures``."""
    html: Markup

    def chapters(self) -> tuple[Section, ...]:
        return tuple(section for section in self.sections if section.depth == 2)


def slug(words: str) -> str:
    """ "What to do when" -> "what-to-do-when"."""
    return re.sub(r"\s", "-", re.sub(r"[^\w\s-]", "", words.strip().lower()))


def size_of_png(path: Path) -> tuple[int, int]:
    """Width and height [px], from its header (PNG 1.2, 11.2.2); a page that knows them does not jump while it loads."""
    width, height = struct.unpack(">II", path.read_bytes()[16:24])
    return width, height


@cache
def handbook() -> Handbook:
    parser = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = parser.parse(FILE.read_text(encoding="utf-8"))
    sections = tuple(_sections(tokens))
    pictures = frozenset(_pictures(tokens))
    return Handbook(sections, pictures, Markup(parser.renderer.render(tokens, parser.options, {})))


def _sections(tokens: Sequence[Token]) -> list[Section]:
    """Gives each heading its id."""
    found = []
    for opening, words in pairwise(tokens):
        if opening.type == "heading_open":
            section = Section(slug(words.content), words.content, int(opening.tag[1]))
            opening.attrSet("id", section.id)
            found.append(section)
    return found


def _pictures(tokens: Sequence[Token]) -> list[str]:
    """Points each picture to our address and tells its size."""
    images = [each for token in tokens for each in token.children or () if each.type == "image"]
    names = []
    for image in images:
        name = str(image.attrs["src"]).removeprefix("pictures/")
        width, height = size_of_png(PICTURES / name)
        image.attrs |= {"src": f"{ADDRESS}/pictures/{name}", "width": width, "height": height, "loading": "lazy"}
        names.append(name)
    return names
