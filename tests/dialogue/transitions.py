"""Every transition of the flows by a name that outlives moved lines ("order.where outside", "check.block on number 2"),
and a watch on the ones that are taken."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from guide_service.dialogue import machine
from guide_service.dialogue.context import Context
from guide_service.dialogue.flow import FlowSet, Transition


def transitions_of(flows: FlowSet) -> Iterator[tuple[str, Transition]]:
    for state in flows.states.values():
        for answer in state.answers:
            yield from _numbered(f"{state.id} {answer.key}", answer.transitions)
        for event, transitions in state.on.items():
            yield from _numbered(f"{state.id} on {event}", transitions)
        yield from _numbered(f"{state.id} always", state.always)
        yield from _numbered(f"{state.id} enter", (state.enter,) if state.enter else ())
    for event, transitions in flows.anywhere.items():
        yield from _numbered(f"anywhere {event}", transitions)


def _numbered(name: str, transitions: tuple[Transition, ...]) -> Iterator[tuple[str, Transition]]:
    """The one of a name has no number; of several each has one."""
    several = len(transitions) > 1
    return ((f"{name} {number}" if several else name, each) for number, each in enumerate(transitions, 1))


@contextmanager
def whenever_taken(note: Callable[[Context, Transition], None]) -> Iterator[None]:
    """``note`` is told of each transition that is carried out while it is open."""
    carry_out = machine._Walk.carry_out

    def noted(self: Any, transition: Transition) -> None:
        note(self.sheet, transition)
        carry_out(self, transition)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(machine._Walk, "carry_out", noted)
        yield
