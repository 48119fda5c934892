"""Which figure of a place belongs to which point, or why that must be asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from guide_service.dialogue.answers.figures import Figure
from guide_service.dialogue.events import WhyUnclear
from guide_service.drying.terms import BAY_POINTS, RELATIVE_MATERIALS, Material, PlaceKind, Point

STUD = "stud"
"""A stud without more: the low one, and the next time the one above it."""


@dataclass(frozen=True, slots=True)
class Where:
    """A point, a material, or both, as said."""

    point: Point | None = None
    material: Material | None = None
    stud: bool = False

    @classmethod
    def of(cls, kind: str, value: str) -> Where:
        if kind == "materials":
            material = Material(value)
            relative = material in RELATIVE_MATERIALS
            return cls(Point.SURFACE if relative else _point_of(material), material)
        if value == STUD:
            return cls(stud=True)
        return cls(Point(value), Material.SHEATHING if value == Point.SHEATHING else None)

    def joins(self, before: Where) -> bool:
        """Whether this word and the one before it name one spot ("treated plate")."""
        return (self.point is None and not self.stud) or (before.point is None and not before.stud)

    def joined(self, other: Where) -> Where:
        return Where(self.point or other.point, self.material or other.material, self.stud or other.stud)


def _point_of(material: Material) -> Point | None:
    return Point.SHEATHING if material is Material.SHEATHING else None


NOWHERE = Where()
_PLAIN = {point: Where(point) for point in Point}


def assign(
    parts: Sequence[Where | Figure], kind: PlaceKind, points: tuple[Point, ...], bare: bool
) -> list[tuple[Where, Figure]] | WhyUnclear:
    """Each figure of a place with its point. ``points``: those that are asked there; ``bare``: the place was not named.

    The point stays open (``None``) when numbers alone were typed for a place that was named: the order tells.
    """
    pairs = _paired(parts)
    if pairs is None:
        return WhyUnclear.WHICH_POINT
    pairs = _studs_in_order(pairs)
    said = [where.point for where, _ in pairs if where.point is not None and where.point is not Point.SURFACE]
    if len(said) != len(set(said)):
        return WhyUnclear.WHICH_POINT
    open_count = sum(1 for where, _ in pairs if where.point is None)
    if open_count > _room(kind, points, bare, bool(said)):
        return WhyUnclear.MANY_NUMBERS
    if points and open_count == len(pairs) <= len(points):
        return [(_at(where, point), figure) for (where, figure), point in zip(pairs, points, strict=False)]
    return pairs


def _at(where: Where, point: Point) -> Where:
    return Where(point, where.material, where.stud) if where.material is not None else _PLAIN[point]


def _room(kind: PlaceKind, points: tuple[Point, ...], bare: bool, said: bool) -> int:
    """How many numbers without a point a place can take."""
    if kind is not PlaceKind.BAY:
        return 1
    if said:
        return 0
    return len(points) if points and (bare or len(points) == 1) else len(BAY_POINTS)


def _paired(parts: Sequence[Where | Figure]) -> list[tuple[Where, Figure]] | None:
    """Figures with the point said for them, before or after; ``None`` where both would be possible."""
    if not any(isinstance(part, Where) for part in parts):
        return [(NOWHERE, part) for part in parts if isinstance(part, Figure)]
    if isinstance(parts[0], Where):
        return _points_first(parts)
    return _points_after(parts) or _order_then_point(parts)


def _points_first(parts: Sequence[Where | Figure]) -> list[tuple[Where, Figure]] | None:
    """ "plate 22 stud 19", "plate 22 19 17" (on from the plate)."""
    pairs: list[tuple[Where, Figure]] = []
    where: Where | None = None
    used = True
    for part in parts:
        if isinstance(part, Where):
            if not used:
                return None
            where, used = part, False
        elif where is not None:
            if used and not _runs_on(where):
                return None
            pairs.append((_next_to(where) if used else where, part))
            where, used = pairs[-1][0], True
    return pairs if used else None


def _runs_on(where: Where) -> bool:
    return where.point in BAY_POINTS[:-1] and where.material is None


def _next_to(where: Where) -> Where:
    assert where.point is not None
    return Where(BAY_POINTS[BAY_POINTS.index(where.point) + 1])


def _points_after(parts: Sequence[Where | Figure]) -> list[tuple[Where, Figure]] | None:
    """ "22 plate, 19 stud": strictly by turns, the point last."""
    if len(parts) % 2:
        return None
    pairs: list[tuple[Where, Figure]] = []
    for figure, where in zip(parts[::2], parts[1::2], strict=True):
        if not isinstance(figure, Figure) or not isinstance(where, Where):
            return None
        pairs.append((where, figure))
    return pairs


def _order_then_point(parts: Sequence[Where | Figure]) -> list[tuple[Where, Figure]] | None:
    """ "22 19 17 drywall 14": a full bay in order, then another material with its own number."""
    head, rest = parts[: len(BAY_POINTS)], parts[len(BAY_POINTS) :]
    if not all(isinstance(part, Figure) for part in head) or not rest or not isinstance(rest[0], Where):
        return None
    if rest[0].point not in (Point.SURFACE, Point.SHEATHING):
        return None
    tail = _points_first(rest)
    return None if tail is None else [*((NOWHERE, part) for part in head if isinstance(part, Figure)), *tail]


def _studs_in_order(pairs: list[tuple[Where, Figure]]) -> list[tuple[Where, Figure]]:
    """A plain "stud" is the low one, the next plain "stud" the one above."""
    if not any(where.stud for where, _ in pairs):
        return pairs
    taken = {where.point for where, _ in pairs}
    free = [point for point in (Point.LOW_STUD, Point.MID_STUD) if point not in taken]
    found = []
    for where, figure in pairs:
        if where.stud and where.point is None:
            where = replace(where, point=free.pop(0) if free else Point.LOW_STUD)
        found.append((where, figure))
    return found
