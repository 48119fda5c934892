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
        return ", ".join(_reading(item) for item in value["items"]) or name
    if isinstance(value, dict) and "raw" in value:
        return f"{name} ({value['raw']})"
    if isinstance(value, list):
        return f"{name} {' '.join(str(item) for item in value)}"
    return f"{name}: {words.word({}, value)}" if isinstance(value, str) else f"{name} {value if value else ''}".strip()


def _reading(item: dict[str, Any]) -> str:
    """ "K1 bottom plate >30": what is named of it, in that order."""
    place = item.get("place") or {}
    sign = SIGNS.get(item.get("qualifier", ""), "")
    number = f"{sign}{measured(item['value'])}" if "value" in item else item.get("colour")
    parts = (place.get("label") or place.get("words"), words.word(words.POINTS, item.get("point")), number)
    return " ".join(part for part in parts if part)
