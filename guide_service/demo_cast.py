"""The people of the demo: a dozen invented households of Larkwater County, each at another stage, and what they text.

Nobody here is real. Numbers are of the range that is kept free for fiction. What a household is asked decides what it
answers (``answers``, by the state of its conversation); what it says of itself stands in ``says``; what its meter shows
follows a curve of drying, so that the service gets believable numbers and draws its own conclusions.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

COMMON = {
    "welcome.language": "en",
    "welcome.consent": "yes",
    "welcome.role": "owner",
    "order.where": "airing",
    "places.kind": "stud",
    "places.treated": "plain",
    "places.more": "no",
    "places.reference": "no",
    "meter.have": "have",
    "meter.kind": "pins",
    "check.washed": "no",
    "check.setting": "yes",
    "check.block": "yes",
}
"""What nearly everybody answers: the key of an offered answer, or words. Whatever else is asked stays open that day."""


@dataclass(frozen=True, slots=True)
class Drying:
    """What the pins show: from ``start`` towards ``end`` [% MC], the gap shrinking by ``rate`` a day."""

    start: float
    end: float
    rate: float

    def at(self, days: float, place: int, point: int) -> int:
        """``place`` and ``point`` count from 0: later bays are a little drier, the plate is the wettest point."""
        gap = (self.start - self.end) * math.exp(-self.rate * days)
        return round(self.end + gap * (1 - 0.08 * place) * (1 - 0.14 * point))


@dataclass(frozen=True, slots=True)
class Neighbour:
    """One household. Days count back from the present; hours are local."""

    digits: str
    area: str
    address: str
    says: tuple[tuple[float, float, str], ...]
    """(days ago, hour, text)"""
    answers: Mapping[str, str] = field(default_factory=dict)
    wall: tuple[str, str, str] = ("kitchen", "6", "1 2 4")
    """Room, open bays, the bays that are followed."""
    drying: Drying | None = None
    first_check: float = 0.0
    """Days ago of the first check; later ones follow the reminders."""
    measures_until: float = 0.0
    """Days ago after which it sends no more."""

    @property
    def number(self) -> str:
        return f"+1202555{self.digits}"

    def answer(self, state: str) -> str | None:
        room, bays, followed = self.wall
        own = {
            "welcome.area": self.area,
            "welcome.address": self.address,
            "places.room": room,
            "places.bays": bays,
            "places.which": followed,
            "meter.whose": f"M{self.digits[-2:]}",
        }
        return {**COMMON, **own, **self.answers}.get(state)


@dataclass(frozen=True, slots=True)
class Lent:
    """A meter of the county that a household had or has. Days count back from the present."""

    meter: str
    digits: str
    ago: float
    days: int
    """From the day it was lent to the day it is due back."""
    back: float | None = None


LENT = (
    Lent("A3", "0131", ago=37, days=28),  # reminded twice, never brought back
    Lent("A4", "0126", ago=37, days=28, back=11),
    Lent("A5", "0123", ago=12, days=14),  # due soon
)
CAST = (
    Neighbour(
        "0121", "Millrace", "8 Weir Street",
        ((0.1, -2.2, "water in basement what do i do"),),
        {"welcome.consent": ""},
    ),
    Neighbour(
        "0122", "Fenn Landing", "31 Ferry Road",
        ((1, 17.4, "hello, the flyer at the store says to text you"), (1, 18.0, "PLACES")),
        {"places.which": ""},
        wall=("back bedroom", "7", ""),
    ),
    Neighbour(
        "0123", "Millrace", "12 Mill Lane",
        ((16, 9.2, "HELLO"), (15, 8.5, "can i turn the power back on"), (9, 19.1, "the fan trips the breaker")),
        wall=("kitchen", "6", "1 2 4"),
        drying=Drying(42, 13, 0.035), first_check=11,
    ),
    Neighbour(
        "0124", "Millrace", "5 Tannery Row",
        ((31, 12.7, "hi we had 2 feet of water in the house"), (12, 20.2, "thank you so much")),
        wall=("hall", "5", "1 3"),
        drying=Drying(38, 13, 0.07), first_check=24,
    ),
    Neighbour(
        "0125", "Fenn Landing", "2 Landing Court",
        ((38, 18.1, "hello"),),
        wall=("living room", "4", "1 2 3"),
        drying=Drying(34, 13.6, 0.085), first_check=33,
    ),
    Neighbour(
        "0126", "Upper Larkwater", "77 Orchard Road",
        ((52, 10.3, "HELLO"), (2, 13.5, "how are we doing")),
        wall=("pantry", "3", "1 2 3"),
        drying=Drying(21, 8.5, 0.05), first_check=36,
    ),
    Neighbour(
        "0127", "Millrace", "19 Sawpit Lane",
        ((40, 15.6, "hello is this the county"),),
        wall=("utility room", "5", "1 2 3"),
        drying=Drying(24, 23, 0.01), first_check=30,
    ),
    Neighbour(
        "0128", "Fenn Landing", "44 Ferry Road",
        ((22, 11.9, "hello"), (0.1, -3.1, "there is black mold all over the wall behind the tub and it smells")),
        {"mould.size": "big", "mould.risk": "yes", "mould.ducts": "no", "mould.water": "river", "mould.cleaned": "no"},
        wall=("bathroom", "4", "1 2"),
        drying=Drying(40, 14, 0.04), first_check=14,
    ),
    Neighbour(
        "0129", "Upper Larkwater", "3 Quarry Steps",
        ((26, 16.0, "hello"), (19, 9.4, "STOP")),
    ),
    Neighbour(
        "0130", "Millrace", "60 Weir Street",
        ((12, 14.4, "HELLO"), (11, 19.2, "PLACES"), (0.1, -0.7, "can a person call me please i dont get it")),
        {"meter.have": "later"},
        wall=("den", "8", "2 5 6"),
    ),
    Neighbour(
        "0131", "Fenn Landing", "9 Pike Street",
        ((45, 13.0, "hello"),),
        wall=("kitchen", "6", "1 2"),
        drying=Drying(39, 13, 0.04), first_check=36, measures_until=24,
    ),
    Neighbour(
        "0132", "Upper Larkwater", "15 Orchard Road",
        ((20, 7.6, "Hi, contractor here, i do the drying for the owner at 15 Orchard Road"),),
        {"welcome.role": "contractor"},
        wall=("dining room", "6", "1 3 5"),
        drying=Drying(33, 12, 0.06), first_check=13,
    ),
    Neighbour(
        "0133", "Millrace", "27 Mill Lane",
        ((6, 20.8, "the outlet by the sink is sparking and the floor is wet"), (5, 9.1, "thanks its off now")),
        {"meter.have": "later"},
    ),
    Neighbour(
        "0134", "Fenn Landing", "6 Landing Court",
        ((18, 12.2, "Hello"), (9, 17.5, "PLACES"), (0.1, -5.0, "where can i get one of those meters")),
        {"meter.have": "later", "meter.ready": "yes", "places.treated": "treated"},
        wall=("garage", "5", "1 4"),
    ),
)  # fmt: skip
