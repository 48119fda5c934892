"""How many pieces a text message travels in, which is what it costs and how likely it arrives whole.

Source: 3GPP TS 23.038 and TS 23.040. One message holds 140 octets: 160 seven-bit characters or 70 UTF-16 units. A
longer one gives up 6 octets of each piece to a header: 153 characters or 67 units. Neither an escape pair ("{") nor a
surrogate pair (an emoji) is ever cut in two.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from guide_service.wording.gsm import BASIC_SET, EXTENSION_SET, GSM_SET

Encoding = Literal["GSM-7", "UCS-2"]


@dataclass(frozen=True, slots=True)
class Segments:
    encoding: Encoding
    units: int
    """Septets (GSM-7) or UTF-16 units (UCS-2) of the text itself."""
    count: int


def segments(text: str) -> Segments:
    """Encoding, units and number of segments of ``text`` exactly as it is sent. An empty text counts one segment."""
    characters = set(text)
    if characters <= BASIC_SET:
        return _whole("GSM-7", len(text), 160, 153)
    if characters <= GSM_SET:
        sizes = [2 if c in EXTENSION_SET else 1 for c in text]
        return _counted("GSM-7", sizes, 160, 153)
    return _counted("UCS-2", [2 if c > "\uffff" else 1 for c in text], 70, 67)


def _whole(encoding: Encoding, units: int, single: int, joined: int) -> Segments:
    return Segments(encoding, units, 1 if units <= single else -(-units // joined))


def _counted(encoding: Encoding, sizes: list[int], single: int, joined: int) -> Segments:
    units = sum(sizes)
    return Segments(encoding, units, 1 if units <= single else _packed(sizes, joined))


def _packed(sizes: Iterable[int], room: int) -> int:
    """Pieces needed when no character is cut: what does not fit whole starts the next piece."""
    count, used = 1, 0
    for size in sizes:
        if used + size > room:
            count, used = count + 1, 0
        used += size
    return count
