"""A household that no check is planned for, and that says nothing: when it is asked how it stands, if at all.

Pure: where it stands and how long it has been silent in, the days of the nudges out. What takes days of itself, mud,
drying, an inspector, is given days; whoever was told to stay out is never asked to go on. Silence is never dryness:
at the end of every chase stands an agent's list, and nothing else changes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class WaitsFor(StrEnum):
    """What a silence in a state is most likely about; the word of the flow files."""

    ANSWER = "answer"
    """A question that can be answered at once."""
    WORK = "work"
    """Hands: a step that takes a household some days."""
    DRYING = "drying"
    OTHERS = "others"
    """A landlord, an electrician, an inspector."""
    OFFICIALS = "officials"
    """Told to stay out until others say that the house may be entered."""
    STAGE = "stage"
    """Nothing is asked here: whatever the stage of the household waits for."""
    NOTHING = "nothing"
    """Done, stopped, or followed up in a way of its own."""


OF_STAGE: Mapping[str, WaitsFor] = {
    "unknown": WaitsFor.ANSWER,
    "safe_entry": WaitsFor.OFFICIALS,
    "utilities": WaitsFor.OTHERS,
    "papers": WaitsFor.WORK,
    "water_out": WaitsFor.WORK,
    "mud_out": WaitsFor.WORK,
    "throw_out": WaitsFor.WORK,
    "open_walls": WaitsFor.WORK,
    "clean": WaitsFor.WORK,
    "dry": WaitsFor.DRYING,
    "measure": WaitsFor.WORK,
    "close": WaitsFor.OTHERS,
    "afterwards": WaitsFor.NOTHING,
}
"""By the ids of ``stages.Stage``. Common practice of case work: who waits for a trade or an official is left longer."""


@dataclass(frozen=True, slots=True)
class SilenceDays:
    """Days of silence after which a household is asked; the second time after as many days again."""

    answer: int
    work: int
    drying: int
    others: int


@dataclass(frozen=True, slots=True)
class Silent:
    """A household that has said nothing for ``days``."""

    waits_for: WaitsFor
    """Of the state in which its conversation stands."""
    stage: str
    days: int
    asked_landlord: bool = False
    long_silent: bool = False
    """For so long that the number may be somebody else's by now."""


@dataclass(frozen=True, slots=True)
class Chase:
    nudges: tuple[int, ...]
    """Days from the first day of the chase; none where nothing is texted and agents alone hear of the silence."""


def chase(silent: Silent, days: SilenceDays) -> Chase | None:
    """How this household is looked for from today on; None as long as its silence means nothing."""
    about = what_it_waits_for(silent)
    if about == WaitsFor.NOTHING:
        return None
    allowed = days_of(about, days)
    if silent.days < allowed:
        return None
    texted = about != WaitsFor.OFFICIALS and not silent.long_silent
    return Chase((0, allowed) if texted else ())


def what_it_waits_for(silent: Silent) -> WaitsFor:
    if silent.stage == "afterwards":
        return WaitsFor.NOTHING  # closed: one look back follows, of its own
    if silent.waits_for != WaitsFor.STAGE:
        return silent.waits_for
    about = OF_STAGE.get(silent.stage, WaitsFor.ANSWER)
    return WaitsFor.OTHERS if silent.asked_landlord and about == WaitsFor.WORK else about


def days_of(about: WaitsFor, days: SilenceDays) -> int:
    own = {WaitsFor.ANSWER: days.answer, WaitsFor.WORK: days.work, WaitsFor.DRYING: days.drying}
    return own.get(about, days.others)
