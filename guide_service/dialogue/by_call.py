"""What a call adds to what was said: keys that are events, and the question as it was heard.

A person at the phone answers the question that was spoken to them. When the conversation has moved meanwhile (a text of
the same phone, an agent), a bare "1" must not become the answer to another question.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from guide_service.dialogue.events import Asked, Event, EventName, ReadingsHeard

OF_NO_QUESTION = frozenset(
    {
        EventName.DANGER,
        EventName.STOP,
        EventName.START,
        EventName.PERSON,
        EventName.MOULD,
        EventName.NEW_WATER,
        EventName.CLOSED,
        EventName.UPSET,
        EventName.TOPIC,
        EventName.GREETING,
        EventName.STATUS,
        EventName.LANGUAGE,
        EventName.CODE,
        EventName.JOIN,
        EventName.CALLS,
    }
)
"""What means the same whatever was asked."""


@dataclass(frozen=True, slots=True)
class OnCall:
    """Of one answer at the phone, beside its words."""

    said: Event | None = None
    """What a key means; None: the words are understood as a text's."""
    state: str | None = None
    """The state whose question was heard; None: none was."""
    asked: Asked | None = None
    household: int | None = None
    """The one of several that the caller has shown to be theirs in this call."""
    doubted: bool = False
    """The caller's number is not vouched for, and nothing was shown yet: the file is told to nobody."""
    one_call: bool = False
    """No number is known: the phone cannot be written to or called."""
    reached_by: str = "call"
    """Channel of what we start, should the caller agree to it now: ``call`` or ``sms``."""
    language: str | None = None
    """Spoken instead of the phone's own, which has no voice."""


def as_heard(events: Sequence[Event], call: OnCall, state: str, asked: Asked) -> tuple[tuple[Event, ...], bool]:
    """The events that still mean what the person meant, and whether any had to be let go."""
    events = [_found_right(event) for event in events]
    if call.state is None or (call.state == state and call.asked == asked):
        return tuple(events), False
    kept = tuple(event for event in events if event.name in OF_NO_QUESTION or _names_its_places(event))
    return kept, len(kept) < len(events)


def _found_right(event: Event) -> Event:
    """A name was said back to the caller before it counts: an address in keys alone is asked about once, not twice."""
    return replace(event, street=True) if event.name is EventName.NAME else event


def _names_its_places(event: Event) -> bool:
    heard = event.value
    return isinstance(heard, ReadingsHeard) and not heard.unclear and all(item.place for item in heard.items)
