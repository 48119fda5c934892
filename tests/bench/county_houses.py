"""A county in bulk for the agents' pages: households lived through by turns over weeks, then copied.

One in fifteen waits for a person, one in thirty has told of mould; the others measure and dry. Ten texts each are kept.
"""

from __future__ import annotations

import datetime as dt
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from guide_service.carrier.form import InboundText
from guide_service.clock import FixedClock
from guide_service.database import make_engine
from guide_service.records.migrating import migrate
from guide_service.turn import take_turn
from guide_service.wiring import Service
from tests.bench import houses

TEXTS = 10
AT_ONCE = 1_000
ROUNDS = (
    (21, "K1 28 25 22, K2 26 22 19"),
    (14, "K1 23 20 18, K2 20 18 16"),
    (7, "K1 20 18 16, K2 17 15 14"),
)  # fmt: skip
"""(days ago, readings); the set-up is on the day of the first."""
LATELY = {"dries": (), "asks": ("0", "please call me"), "mould": ("i see mold", "2", "2", "2")}
"""What else was texted today."""
KINDS = ("dries",) * 14 + ("asks",) + ("dries",) * 13 + ("mould", "asks")


def store_county(service: Service, how_many: int = AT_ONCE) -> None:
    """So many households with numbers of their own in the service's empty database."""
    by_kind = {kind: lived(service, kind) for kind in LATELY}
    houses.store_copies(service, [by_kind[kind] for kind in KINDS], how_many)


def lived(service: Service, kind: str) -> houses.Model:
    """The rows of a household of that kind, made by turns alone."""
    with tempfile.TemporaryDirectory(prefix="guide-house-") as home:
        engine = make_engine(f"sqlite:///{Path(home) / 'house.db'}")
        migrate(engine)
        alone = service.on(engine, clock=FixedClock(service.clock.now()))
        number = houses.number_of(list(LATELY).index(kind))
        live(alone, number, LATELY[kind])
        model = houses.read_model(alone, number, TEXTS)
        engine.dispose()
    return model


def live(service: Service, number: str, lately: Sequence[str]) -> None:
    """Sets its places up, measures in every round, and texts what it has to say today."""
    today = service.clock.now()
    clock = FixedClock(today - dt.timedelta(days=ROUNDS[0][0]))
    service = replace(service, clock=clock)
    houses.set_up(service, number, until="check.point")
    for n, (days_ago, words) in enumerate((*ROUNDS, *((0, text) for text in lately))):
        clock.at = today - dt.timedelta(days=days_ago)
        sid = f"SMlived{n}of{number[1:]}"
        take_turn(service, InboundText(sid, "AC", number, service.settings.number, words))
