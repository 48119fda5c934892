"""What a text says of each place, while it is read and when it has been read."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from guide_service.dialogue.answers.figures import Figure
from guide_service.dialogue.answers.places import PlaceHeard
from guide_service.dialogue.answers.points import Where
from guide_service.dialogue.events import ReadingHeard, ReadingsHeard, Unclear
from guide_service.drying.terms import Mode


@dataclass(slots=True)
class Group:
    """What was said of one place: points and figures in the order typed."""

    place: PlaceHeard | None
    start: int
    end: int
    parts: list[Where | Figure] = field(default_factory=list)
    shared: bool = False
    """Two places were named for the same numbers."""
    claim: bool = False
    """ "dry" or "wet" was said of it."""
    contradicted: bool = False
    """A "no" stands after its figures."""
    two_minds: bool = False
    """Another figure follows that "no"."""
    in_a_sentence: bool = False
    """A wall named by its words, after other words of a sentence."""
    late: bool = False
    """The place was said after its figures: further figures are somebody else's."""
    words: bool = False
    """Named by its own words in this text, not only asked about."""

    @property
    def figures(self) -> list[Figure]:
        return [part for part in self.parts if isinstance(part, Figure)]


@dataclass(slots=True)
class Outcome:
    """What the readings' grammar found in a text."""

    items: list[ReadingHeard] = field(default_factory=list)
    unclear: list[Unclear] = field(default_factory=list)
    corrects: bool = False
    taken_on: dt.date | None = None
    temp_c: float | None = None
    humidity: float | None = None
    spans: list[tuple[int, int]] = field(default_factory=list)
    """Tokens that were used."""
    mode: Mode | None = None
    """How the meter was used, where the text says so."""
    marked: bool = False
    """A per cent sign, decimal, qualifier or word such as "moisture" says that readings are meant."""
    instead_of: list[float] = field(default_factory=list)
    """Numbers that were taken back in the same text: 72 of "27 not 72"."""
    loose: list[Figure] = field(default_factory=list)
    """Plausible numbers that nothing anchors."""

    @property
    def anything(self) -> bool:
        return bool(self.items or self.unclear)

    def heard(self) -> ReadingsHeard:
        return ReadingsHeard(
            tuple(self.items), tuple(self.unclear), self.taken_on, self.temp_c, self.humidity, tuple(self.instead_of)
        )
