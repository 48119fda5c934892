"""What the practice phone hears of an answer of ours to a call: the words, and how the carrier would take an answer.

Of our own documents only: the parser is not made for strangers' XML.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any
from urllib.parse import unquote
from xml.etree import ElementTree


@dataclass(frozen=True, slots=True)
class Line:
    words: str
    language: str = ""
    """BCP 47, as the voice was asked for."""
    recording: str = ""
    """Address of a recording that is played in place of words."""


@dataclass(frozen=True, slots=True)
class Heard:
    lines: tuple[Line, ...]
    then: str
    """``answer``: keys or words are waited for; ``dial``: an agent's phone rings; ``record``: a message is recorded;
    ``over``: the call has ended."""
    action: str = ""
    """Where the answer goes."""
    one_key: bool = False
    """One key is an answer; otherwise the key below the 9 ends it."""
    words: bool = False
    """Words are understood too."""
    seconds: int = 0
    """Of silence, until it counts as an answer."""
    dials: str = ""
    """Number that rings."""

    def as_json(self) -> dict[str, Any]:
        return asdict(self)


def heard(document: bytes) -> Heard:
    root = ElementTree.fromstring(document)
    lines = tuple(_line(each) for each in root.iter() if each.tag in ("Say", "Play"))
    gather, dial, record = root.find("Gather"), root.find("Dial"), root.find("Record")
    if gather is not None:
        return Heard(
            lines, "answer", gather.get("action", ""), one_key=gather.get("numDigits") == "1",
            words="speech" in gather.get("input", ""), seconds=int(gather.get("timeout", "5")),
        )  # fmt: skip
    if dial is not None:
        return Heard(lines, "dial", dial.get("action", ""), dials="".join(dial.itertext()).strip())
    if record is not None:
        return Heard(lines, "record", record.get("action", ""))
    return Heard(lines, "over")


def _line(element: ElementTree.Element) -> Line:
    if element.tag == "Say":
        return Line(" ".join("".join(element.itertext()).split()), element.get("language", ""))
    address = (element.text or "").strip()
    return Line(unquote(address.rpartition("/")[2]).removesuffix(".wav"), recording=address)
