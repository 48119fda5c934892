"""A time of day as people text it: "6pm", "18:30", "half past" is not read; "a las 6 de la tarde".

An hour without its half of the day is the one that lies in the waking hours: "at 6" is six in the evening, "at 9" nine
in the morning. The answer names the hour, so that a wrong guess is seen at once.
"""

from __future__ import annotations

import datetime as dt
import re

from guide_service.dialogue.answers.spelling import fold

EARLIEST_MEANT = 7
"""Nobody who texts "at 6" wants to be woken at six: hours before this one are taken as afternoon. Our choice."""
_TIME = re.compile(r"(?<![\d.,:])(\d{1,2})(?:\s?[:.h]\s?(\d{2}))?(?![\d:])\s*(?:([ap])\s?\.?\s?m\b)?")
_MORNING = re.compile(r"\b(?:in the morning|de la manana|por la manana)\b")
_EVENING = re.compile(r"\b(?:in the (?:afternoon|evening)|at night|tonight|(?:de|por) la (?:tarde|noche))\b")
_NOON = re.compile(r"\b(?:noon|midday|mediodia|medio dia)\b")


def read_time(text: str) -> dt.time | None:
    """The one time that ``text`` names; None for none, for several, and for what is no time."""
    folded = fold(text)
    found = [match for match in _TIME.finditer(folded) if match.group(1)]
    if not found:
        return dt.time(12) if _NOON.search(folded) else None
    if len(found) > 1:
        return None
    hour, minute = int(found[0][1]), int(found[0][2] or 0)
    half = found[0][3] or ("a" if _MORNING.search(folded) else "p" if _EVENING.search(folded) else "")
    hour = _hour_of_day(hour, half)
    return dt.time(hour, minute) if hour < 24 and minute < 60 else None


def _hour_of_day(hour: int, half: str) -> int:
    if half == "a":
        return 0 if hour == 12 else hour
    if hour < 12 and (half == "p" or hour < EARLIEST_MEANT):
        return hour + 12
    return hour
