"""What a text was understood to say, as it is stored beside the text: never instead of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from functools import lru_cache
from typing import Any

from guide_service.dialogue.events import Event


def as_stored(events: Sequence[Event]) -> list[dict[str, object]]:
    """Events as plain data: ``[{"event": "readings", "value": {...}, "raw": "K1 22"}]``; empty parts are left out."""
    return [_pruned({"event": str(event.name), "value": _plain(event.value), "raw": event.raw}) for event in events]


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, str | int | float):
        return value
    names = _fields(value.__class__)
    if names:
        return _pruned({name: _plain(getattr(value, name)) for name in names})
    if isinstance(value, tuple | list | frozenset | set):
        return [_plain(item) for item in value]
    return value.isoformat() if isinstance(value, dt.date | dt.time) else value


@lru_cache(maxsize=64)
def _fields(kind: Any) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind)) if is_dataclass(kind) else ()


def _pruned(row: dict[str, Any]) -> dict[str, object]:
    return {
        name: value for name, value in row.items() if value is not None and value != "" and value != [] and value != ()
    }
