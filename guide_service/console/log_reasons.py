"""The stored reasons of a verdict in the words of a drying log: for a contractor or an inspector, not for a resident.

A reason without an entry is shown by its code, made readable: nothing that stands behind a verdict is hidden.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from guide_service.console import words
from guide_service.console.catalogue import N_, gettext
from guide_service.console.figures import measured, percent

REASONS = {
    "worst_point": N_("wettest point: %(point)s at %(value)s"),
    "no_reading": N_("no reading"),
    "over_range": N_("%(point)s over the meter's range (%(value)s)"),
    "below_range_unproven": N_("a number below the meter's range that a second push has not proven"),
    "relative_only": N_("only relative readings: no wood was read"),
    "relative_worsens": N_("%(material)s still reads high"),
    "not_wood_setting": N_("the meter was not on its wood setting with pins"),
    "mode_not_asked": N_("the meter's setting is not known"),
    "treated_reads_high": N_("treated wood reads high"),
    "unconfirmed": N_("neither the household nor the office has confirmed the readings"),
    "meter_failed_check": N_("the meter failed its check"),
    "meter_recalled": N_("the meter was found to read wrong and was recalled"),
    "missing_points": N_("points not read: %(points)s"),
    "one_round_only": N_("%(needed)s rounds are needed, %(days)s days apart"),
    "second_round": N_("a second round is needed"),
    "rounds_too_close": N_("rounds must be %(days)s days apart"),
    "rising": N_("a reading rose since the round before"),
    "not_below_limit": N_("not below the limit"),
    "not_sure_enough": N_("too near the limit: %(probability)s sure, %(needed)s needed"),
    "too_old": N_("readings too old (%(read_on)s)"),
    "places_not_read": N_("places not read: %(places)s"),
    "bays_unknown": N_("number of open bays not known"),
    "sweep_needed": N_("other bays not read yet: %(labels)s"),
    "mould_open": N_("a mold report is open"),
    "flooded_again": N_("flooded again after these readings"),
    "air_too_humid": N_("the air is too humid"),
    "washed_recently": N_("washed shortly before (%(washed_on)s)"),
    "meets_limit": N_("meets the closing rule of the policy"),
    "band_interval": N_("usual interval of its band"),
    "day_not_possible": N_("the household could not on other days"),
}
MATERIALS = {
    "wood": N_("wood"),
    "sheathing": N_("sheathing panel"),
    "treated": N_("treated wood"),
    "drywall": N_("drywall"),
    "plaster": N_("plaster"),
    "concrete": N_("concrete"),
    "masonry": N_("masonry"),
}
_SHARES = ("probability", "needed")


def in_words(reasons: Sequence[Mapping[str, Any]]) -> list[str]:
    return list(dict.fromkeys(_one(reason) for reason in reasons))


def _one(reason: Mapping[str, Any]) -> str:
    code = str(reason.get("code", ""))
    text = REASONS.get(code)
    if text is None:
        return code.replace("_", " ")
    return gettext(text) % _Args({name: _said(name, value) for name, value in (reason.get("args") or {}).items()})


class _Args(dict[str, str]):
    """A reason that was stored before it had all its arguments is shown all the same."""

    def __missing__(self, name: str) -> str:
        return "?"


def _said(name: str, value: object) -> str:
    if value is None:
        return "–"
    if name == "point":
        return words.word(words.POINTS, str(value))
    if name == "material":
        return words.word(MATERIALS, str(value))
    if isinstance(value, list):
        return ", ".join(words.word(words.POINTS, str(each)) if name == "points" else str(each) for each in value)
    if isinstance(value, float) and name in _SHARES and 0.0 <= value <= 1.0:
        return percent(value)
    return measured(value) if isinstance(value, int | float) else str(value)
