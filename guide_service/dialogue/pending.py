"""What waits to be asked, kept in the conversation's slots as plain data: nothing that was sent is lost meanwhile."""

from __future__ import annotations

from collections.abc import Mapping

from guide_service.dialogue.events import PlaceNamed, ReadingHeard, Unclear
from guide_service.drying.terms import Material, Mode, PlaceKind, Point, Qualifier

Slots = dict[str, object]


def queue_unclear(slots: Slots, item: Unclear) -> None:
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
        }
    )


def first_unclear(slots: Mapping[str, object]) -> dict[str, object] | None:
    rows = slots.get("unclear")
    return rows[0] if isinstance(rows, list) and rows else None


def drop_unclear(slots: Slots) -> dict[str, object] | None:
    rows = slots.get("unclear")
    if not isinstance(rows, list) or not rows:
        return None
    first: dict[str, object] = rows.pop(0)
    if not rows:
        del slots["unclear"]
    return first


def queue_unknown(slots: Slots, item: ReadingHeard) -> None:
    rows = slots.setdefault("unknown", [])
    assert isinstance(rows, list)
    assert item.place is not None
    rows.append(
        {
            "words": item.place.label or item.place.words,
            "label": item.place.label,
            "kind": str(item.place.kind) if item.place.kind else None,
            "point": str(item.point) if item.point else None,
            "value": item.value,
            "qualifier": str(item.qualifier),
            "material": str(item.material) if item.material else None,
            "mode": str(item.mode) if item.mode else None,
            "colour": item.colour,
            "resolution": item.resolution,
            "raw": item.raw,
        }
    )


def unknown_items(slots: Mapping[str, object]) -> list[dict[str, object]]:
    """The items of the first unknown place, in the order sent."""
    rows = slots.get("unknown")
    if not isinstance(rows, list) or not rows:
        return []
    return [row for row in rows if row["words"] == rows[0]["words"]]


def drop_unknown(slots: Slots) -> list[dict[str, object]]:
    items = unknown_items(slots)
    rows = slots.get("unknown")
    rest = [row for row in rows if row not in items] if isinstance(rows, list) else []
    if rest:
        slots["unknown"] = rest
    else:
        slots.pop("unknown", None)
    return items


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
