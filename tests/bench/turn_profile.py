"""Where the time of a turn goes: the parts of ``take_turn``, timed from outside, one turn at a time."""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from guide_service import turn
from guide_service.carrier.form import InboundText
from guide_service.dialogue import context
from guide_service.turn import take_turn
from guide_service.turning import deciding
from guide_service.wiring import Service
from tests.bench import houses

TIMED: tuple[tuple[Any, str], ...] = (
    (turn, "_known"), (turn, "_decided"), (turn, "_stored"), (turn, "keep_text"), (deciding, "facts_of"),
    (deciding, "understand"), (deciding, "advance"), (deciding, "compose"), (context, "assess"),
)  # fmt: skip
TEXTS_EACH = 4
"""Texts of each household that are timed, after one that is not."""
HOUSES = 100


def stages(service: Service) -> dict[str, float]:
    """Microseconds of a turn by part, on average over texts of the load; their sum is the whole of it."""
    _send(service, range(1))
    spent: dict[str, float] = defaultdict(float)
    with _timed(spent):
        began = time.perf_counter()
        _send(service, range(1, 1 + TEXTS_EACH))
        whole = time.perf_counter() - began
    inside = spent["facts_of"] + spent["understand"] + spent["advance"] + spent["compose"]
    parts = {
        "look up": spent["_known"],
        "facts from rows": spent["facts_of"],
        "understand": spent["understand"],
        "assess": spent["assess"],
        "advance": spent["advance"] - spent["assess"],
        "render": spent["compose"],
        "rest of deciding": spent["_decided"] - inside,
        "store": spent["keep_text"],
        "begin and commit": spent["_stored"] - spent["keep_text"],
        "rest": whole - spent["_known"] - spent["_decided"] - spent["_stored"],
    }
    return {name: seconds / (HOUSES * TEXTS_EACH) * 1e6 for name, seconds in parts.items()}


def _send(service: Service, numbers: range) -> None:
    for n in numbers:
        for house in range(HOUSES):
            number, texts = houses.talk_of(house)
            sid = f"SMprofile{house}x{n}"
            assert take_turn(service, InboundText(sid, "AC", number, service.settings.number, texts[n])).texts


@contextmanager
def _timed(spent: dict[str, float]) -> Iterator[None]:
    true = [(module, name, getattr(module, name)) for module, name in TIMED]
    for module, name, function in true:
        setattr(module, name, _timer(function, name, spent))
    try:
        yield
    finally:
        for module, name, function in true:
            setattr(module, name, function)


def _timer(function: Callable[..., Any], name: str, spent: dict[str, float]) -> Callable[..., Any]:
    def timed(*args: Any, **named: Any) -> Any:
        began = time.perf_counter()
        try:
            return function(*args, **named)
        finally:
            spent[name] += time.perf_counter() - began

    return timed
