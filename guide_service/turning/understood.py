"""What a text was understood to say, as it is stored beside the text: never instead of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from typing import Any

from guide_service.dialogue.events import Event


def as_stored(events: Sequence[Event]) -> list[dict[str, object]]:
    """Events as plain data: ``[{"event": "readings", "value": {...}, "raw": "K1 22"}]``; empty parts are left out."""
    return [_pruned({"event": str(event.name), "value": _plain(event.value), "raw": event.raw}) for event in events]


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return _pruned({field.name: _plain(getattr(value, field.name)) for field in fields(value)})
    if isinstance(value, tuple | list | frozenset | set):
        return [_plain(item) for item in value]
    if isinstance(value, dt.date):
        return value.isoformat()
    return value


def _pruned(row: dict[str, Any]) -> dict[str, object]:
    return {name: value for name, value in row.items() if value not in (None, "", [], ())}
