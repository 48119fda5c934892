"""What a turn knows of whose house it is: the household's code, the phone's other houses, and whether it must prove."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum


class CodeHeard(StrEnum):
    """What the code in a text turned out to be."""

    NONE = "none"
    """It opens no house, or nobody looked because the phone has used up its tries."""
    SLIP = "slip"
    """No six digits, or the check digit does not fit: nobody looked."""
    HERE = "here"
    """The code of a household that the phone is a member of."""
    JOINS = "joins"
    """The code of a household that the phone is not yet a member of."""


class Deletion(StrEnum):
    NOT_ASKED = "not_asked"
    CAN_BE_TAKEN_BACK = "can_be_taken_back"
    WITH_THE_COUNTY = "with_the_county"


@dataclass(frozen=True, slots=True)
class HouseFacts:
    name: str = ""
    """How the house is named to a phone that serves several: its street as told, else the last digits of its code."""
    all: tuple[tuple[str, str], ...] = ()
    """(id, name) of every house of this phone, where it has several and was heard."""
    several: bool = False
    code: str | None = None
    fresh_code: str = ""
    """Drawn at random for this turn, should one be needed."""
    heard: CodeHeard = CodeHeard.NONE
    tries: int = 0
    """Wrong codes from this phone today."""
    by_code: bool = False
    one_call: bool = False
    """Somebody at a phone without a number: can be neither written to nor called."""
    by_phone: bool = False
    """What we start is spoken: this phone chose calls."""
    must_prove: bool = False
    """The number was silent for so long that it may be somebody else's now."""
    deletion: Deletion = Deletion.NOT_ASKED
    speak_from: dt.time = dt.time(8)
    speak_until: dt.time = dt.time(21)
    code_open_days: int = 14
    keep_days: int = 365
    """Texts are kept for so long."""
