"""What the service understood from a text, in a few words for the agent who reads along."""

from __future__ import annotations

from typing import Any

from guide_service.records import Message


def understood(message: Message) -> str:
    return ", ".join(filter(None, (_item(each) for each in message.understood or [])))


def _item(item: dict[str, Any]) -> str:
    name = str(item.get("name", "")).replace("_", " ")
    value = item.get("value")
    return f"{name} {value}" if isinstance(value, str | int | float) else name
