"""What waits to be asked, kept in the conversation's slots as plain data: nothing that was sent is lost meanwhile."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from guide_service.dialogue.events import PlaceNamed, ReadingHeard, Unclear
from guide_service.drying.terms import Material, Mode, PlaceKind, Point, Qualifier

Slots = dict[str, object]


def queue_unclear(slots: Slots, item: Unclear, *, corrects: bool = False) -> None:
    rows = slots.setdefault("unclear", [])
    assert isinstance(rows, list)
    rows.append(
        {
            "why": str(item.why),
            "raw": item.raw,
            "place": item.place.label if item.place else None,
            "words": item.place.words if item.place else None,
            "point": str(item.point) if item.point else None,
            "suggestion": item.suggestion,
            "corrects": corrects,
        }
    )


def first_unclear(slots: Mapping[str, object]) -> dict[str, Any] | None:
    rows = slots.get("unclear")
    return rows[0] if isinstance(rows, list) and rows else None


def alike_unclear(slots: Mapping[str, object]) -> list[dict[str, Any]]:
    """The first that waits, with all that came of the same words and must be asked for the same reason."""
    rows = slots.get("unclear")
    return [row for row in rows if _same(row, rows[0])] if isinstance(rows, list) and rows else []


def drop_unclear(slots: Slots) -> list[dict[str, Any]]:
    """Take out what ``alike_unclear`` gives."""
    alike = alike_unclear(slots)
    rows = slots.pop("unclear", None)
    if not alike or not isinstance(rows, list):
        return []
    rest = [row for row in rows if not _same(row, rows[0])]
    if rest:
        slots["unclear"] = rest
    return alike


def _same(row: Mapping[str, object], first: Mapping[str, object]) -> bool:
    return all(row.get(name) == first.get(name) for name in ("why", "raw", "place"))


def queue_unknown(slots: Slots, items: Sequence[ReadingHeard], words: str, labels: Sequence[str] = ()) -> None:
    """Readings whose place is not certain. ``words``: how it was named, or ""; ``labels``: what it may be."""
    groups = slots.setdefault("unknown", [])
    assert isinstance(groups, list)
    groups.append(
        {
            "words": words,
            "labels": list(labels),
            "kind": next((str(item.place.kind) for item in items if item.place and item.place.kind), None),
            "raw": next((item.raw for item in items if item.raw), words),
            "items": [_item_row(item) for item in items],
        }
    )


def _item_row(item: ReadingHeard) -> dict[str, object]:
    return {
        "point": str(item.point) if item.point else None,
        "value": item.value,
        "qualifier": str(item.qualifier),
        "material": str(item.material) if item.material else None,
        "mode": str(item.mode) if item.mode else None,
        "colour": item.colour,
        "resolution": item.resolution,
        "raw": item.raw,
    }


def first_unknown(slots: Mapping[str, object]) -> dict[str, Any] | None:
    groups = slots.get("unknown")
    return groups[0] if isinstance(groups, list) and groups else None


def numbers_wait(slots: Mapping[str, object]) -> bool:
    """Whether numbers were sent that do not count until something about them is asked."""
    return first_unclear(slots) is not None or first_unknown(slots) is not None


def drop_unknown(slots: Slots) -> dict[str, Any] | None:
    groups = slots.get("unknown")
    if not isinstance(groups, list) or not groups:
        return None
    first: dict[str, Any] = groups.pop(0)
    if not groups:
        del slots["unknown"]
    return first


def heard_again(row: Mapping[str, object], label: str) -> ReadingHeard:
    """An item that waited, now for the place ``label``."""
    value = row.get("value", row.get("suggestion"))
    return ReadingHeard(
        place=PlaceNamed(label, label),
        point=Point(str(row["point"])) if row.get("point") else None,
        value=float(value) if isinstance(value, int | float) else None,
        qualifier=Qualifier(str(row.get("qualifier", "exact"))),
        material=Material(str(row["material"])) if row.get("material") else None,
        mode=Mode(str(row["mode"])) if row.get("mode") else None,
        colour=str(row["colour"]) if row.get("colour") else None,
        resolution=_resolution(row, value),
        raw=str(row.get("raw", "")),
    )


def _resolution(row: Mapping[str, object], value: object) -> float:
    given = row.get("resolution")
    if isinstance(given, int | float):
        return float(given)
    return 0.1 if isinstance(value, float) and value != int(value) else 1.0


def kind_of(row: Mapping[str, object]) -> PlaceKind:
    return PlaceKind(str(row["kind"])) if row.get("kind") else PlaceKind.BAY
