"""What the service understood from a text, in a few words for the agent who reads along."""

from __future__ import annotations

from typing import Any

from guide_service.console import words
from guide_service.console.figures import measured
from guide_service.records import Message

SIGNS = {"above": ">", "below": "<"}


def understood(message: Message) -> str:
    return ", ".join(filter(None, (_event(each) for each in message.understood or [])))


def _event(event: dict[str, Any]) -> str:
    name, value = words.word(words.EVENTS, event.get("event")), event.get("value")
    if isinstance(value, dict) and "items" in value:
        return _readings(value["items"]) or name
    if isinstance(value, dict) and "raw" in value:
        return f"{name} ({value['raw']})"
    if isinstance(value, list):
        return f"{name} {' '.join(str(item) for item in value)}"
    return (
        f"{name}: {words.word({}, value.replace('.', ' '))}"
        if isinstance(value, str)
        else f"{name} {value if value else ''}".strip()
    )


def _readings(items: list[dict[str, Any]]) -> str:
    """ "K1 24 22, K2 bottom plate >30": what is named of each, and a place once for numbers that follow one another."""
    told: list[str] = []
    before = None
    for item in items:
        place, point, number = _place(item), words.word(words.POINTS, item.get("point")), _number(item)
        if place and place == before and not point:
            told[-1] += f" {number}"
        else:
            told.append(" ".join(part for part in (place, point, number) if part))
        before = None if point else place
    return ", ".join(told)


def _place(item: dict[str, Any]) -> str | None:
    place = item.get("place") or {}
    return place.get("label") or place.get("words")


def _number(item: dict[str, Any]) -> str | None:
    sign = SIGNS.get(item.get("qualifier", ""), "")
    return f"{sign}{measured(item['value'])}" if "value" in item else item.get("colour")
