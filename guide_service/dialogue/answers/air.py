"""The air as people text it: "inside 75F 60%, outside 50F 90%", in either unit.

Rules of this file. A temperature counts only with its unit, a humidity only with its per cent sign or word; what has no
side belongs to the side named last, and to the inside before any is named. Only a text that gives a humidity, and
with it a temperature, or in words its side, speaks of the air; a number alone never does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.phrases import longest
from guide_service.dialogue.events import AirHeard

LOWEST_C, HIGHEST_C = -40.0, 55.0
"""Temperatures of air that are believed [deg C]: outside these a slip is more likely (common practice)."""
MOST_SIDE_WORDS = 3
_SIGNS = {"%": "percent", "°": "degrees"}
_SCALES = {"c": "celsius", "f": "fahrenheit"}
"""After the sign of degrees a letter is a scale in every language, also where it is a word of its own ("c'est")."""


@dataclass(slots=True)
class _Sides:
    heard: AirHeard
    side: str = "indoor"
    named: bool = False
    worded: bool = False
    """The word humidity stood beside a number."""

    def put(self, what: str, value: float) -> None:
        self.heard = replace(self.heard, **{f"{self.side}_{what}": value})


def read_air(heard: Heard, lexicon: Lexicon) -> AirHeard | None:
    """Temperatures [deg C] and humidities [%] of a text, or ``None`` when it does not speak of the air."""
    sides = _Sides(AirHeard())
    at = 0
    while at < len(heard.spoken):
        word = heard.spoken[at]
        if word[0].isdigit():
            at = _number(heard, at, lexicon, sides)
            continue
        side, at = _side(heard, at, lexicon)
        if side:
            sides.side, sides.named = ("indoor" if side == "inside" else "outdoor"), True
    found = sides.heard
    humid = found.indoor_rh is not None or found.outdoor_rh is not None
    warm = found.indoor_temp_c is not None or found.outdoor_temp_c is not None
    return found if humid and (warm or (sides.named and sides.worded)) else None


def _side(heard: Heard, at: int, lexicon: Lexicon) -> tuple[str, int]:
    for length in range(MOST_SIDE_WORDS, 0, -1):
        side = lexicon.sides.get(tuple(heard.spoken[at : at + length]))
        if side is not None:
            return side, at + length
    return "", at + 1


def _kind(heard: Heard, at: int, lexicon: Lexicon) -> tuple[int, str]:
    scale = _SCALES.get("".join(heard.spoken[at + 1 : at + 2])) if heard.spoken[at] == "°" else None
    if scale is not None:
        return at + 2, scale
    sign = _SIGNS.get(heard.spoken[at])
    if sign is not None:
        return at + 1, sign
    found = longest(lexicon.terms, heard.said, at)
    return (at + 1, "") if found is None else (found[0], found[1].kind)


def _number(heard: Heard, at: int, lexicon: Lexicon, sides: _Sides) -> int:
    """A number with what follows it: a temperature, a humidity, or neither."""
    negative = at > 0 and heard.spoken[at - 1] == "-"
    try:
        value = float(heard.spoken[at].replace(",", "."))
    except ValueError:
        return at + 1
    value = -value if negative else value
    at, kinds = at + 1, []
    while at < len(heard.spoken) and not heard.spoken[at][0].isdigit():
        end, kind = _kind(heard, at, lexicon)
        if kind not in ("degrees", "fahrenheit", "celsius", "percent", "humidity", "link"):
            break
        kinds.append(kind)
        at = end
    _take(sides, value, kinds)
    return at


def _take(sides: _Sides, value: float, kinds: list[str]) -> None:
    if "fahrenheit" in kinds or "celsius" in kinds:
        temp_c = (value - 32.0) / 1.8 if "fahrenheit" in kinds else value
        if LOWEST_C <= temp_c <= HIGHEST_C:
            sides.put("temp_c", round(temp_c, 1))
    elif ("percent" in kinds or "humidity" in kinds) and 0 < value <= 100:
        sides.put("rh", value)
        sides.worded = sides.worded or "humidity" in kinds
