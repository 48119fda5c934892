"""Who a text is from: a phone that can be answered, a short code, nobody, or another channel.

A number is an address, not a person: phones are shared and numbers are handed on.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import phonenumbers

E164 = re.compile(r"\+[1-9][0-9]{6,14}")
"""ITU-T E.164: a plus, the country code, fifteen digits at most."""

_SHORT_CODE = re.compile(r"\+?[0-9]{3,6}")
"""North American short codes have five or six digits (common practice); other countries use three and four too."""

_WITHHELD = frozenset({"+266696687", "+86282452253", "+7378742833", "+2562533", "+8566"})
"""The words anonymous, unavailable, restricted, blocked and unknown on a keypad: the carrier's stand-ins for a withheld
number (from memory)."""


class SenderKind(StrEnum):
    PHONE = "phone"
    SHORT_CODE = "short_code"
    ANONYMOUS = "anonymous"
    """Withheld, a sender name, or no usable number: cannot be answered."""
    OTHER_CHANNEL = "other_channel"
    """A prefix such as ``whatsapp:``; never taken for the bare phone number behind it."""
    CALL = "call"
    """A call without a number: it can be spoken to as long as it lasts."""

    @property
    def answerable(self) -> bool:
        return self in (SenderKind.PHONE, SenderKind.CALL)


@dataclass(frozen=True, slots=True)
class Origin:
    kind: SenderKind
    address: str
    """E.164 for a phone; otherwise what the carrier wrote."""


@lru_cache(maxsize=16_384)
def normalise(raw: str, region: str = "US") -> str | None:
    """E.164, or None if this is no number that can be dialled from ``region``.

    ``is_valid_number`` is required ("possible" takes seven digits for a number); it accepts the fictional range
    555-0100 to 555-0199. A channel prefix is refused here, because the parser drops it silently.
    """
    if ":" in raw or raw in _WITHHELD:
        return None
    try:
        number = phonenumbers.parse(raw, region)
    except phonenumbers.NumberParseException:
        return None
    if not phonenumbers.is_valid_number(number):
        return None
    number.extension = None
    return phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164)


@lru_cache(maxsize=16_384)
def origin_of(raw: str, region: str = "US") -> Origin:
    """Classifies what stands in ``From``."""
    raw = raw.strip()
    if ":" in raw:
        return Origin(SenderKind.OTHER_CHANNEL, raw)
    if raw not in _WITHHELD and _SHORT_CODE.fullmatch(raw):
        return Origin(SenderKind.SHORT_CODE, raw)
    number = normalise(raw, region)
    return Origin(SenderKind.PHONE, number) if number else Origin(SenderKind.ANONYMOUS, raw)


def origin_of_call(raw: str, call_sid: str, region: str = "US") -> Origin:
    """Who calls. A call without a number that could be called back is known by its own id, and by nothing else."""
    origin = origin_of(raw, region)
    return origin if origin.kind is SenderKind.PHONE else Origin(SenderKind.CALL, f"call:{call_sid}")


def mask(address: str) -> str:
    """``...0123``: enough to tell two phones of one household apart, too little to dial."""
    digits = [character for character in address if character.isdigit()]
    return "..." + "".join(digits[-4:]) if len(digits) >= 7 else "..."
