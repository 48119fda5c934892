"""Where the pins go, drawn by us: a stud bay seen from the room, and the marks of the three bands.

No words stand in a drawing, only the numbers of the spots: one drawing serves every language. Not to scale, but with
what matters true: the wall is open below, the spots are on the board on the floor, on the stud just above it and at
chest height, and both pins of a pair lie along the grain (side by side on a board that lies, one above the other on a
stud that stands).
"""

from __future__ import annotations

from collections.abc import Iterator

WIDTH, HEIGHT = 372, 384
INK, WOOD, GRAIN, BOARD, WALL = "#1d2a30", "#f1dfbf", "#a98c58", "#e4e1d8", "#c9ccc9"
WATER, AIR, HALF = "#0b4f8a", "#46545d", "#824700"
_LEFT, _RIGHT, _STUD = 60, 212, 36
"""Left edges of the two studs, and how wide a stud is drawn."""
_PLATE, _FLOOR, _CUT = 338, 374, 66
"""Top of the bottom plate, the floor, and how far down the wall board was left."""
_CHEST, _LOW = 128, 312
PINS: tuple[tuple[int, int, bool], ...] = ((154, 356, True), (78, _LOW, False), (78, _CHEST, False), (154, 296, True))
"""Middle of each pair of pins by number of its spot, and whether the pair lies (grain from side to side)."""
_BADGES = ((290, 356), (22, _LOW), (22, _CHEST), (154, 246))


def stud_bay() -> str:
    """The drawing as SVG elements, without the ``<svg>`` around them."""
    return "".join(
        (
            *_sheathing(),
            *_stud(_LEFT),
            *_stud(_RIGHT),
            *_plate(),
            _wall_board(),
            _line(20, _FLOOR, 368, _FLOOR, 3),
            *_person(),
            *(_spot(number, place) for number, place in enumerate(zip(PINS, _BADGES, strict=True), 1)),
        )
    )


def svg(elements: str, width: int = WIDTH, height: int = HEIGHT) -> str:
    """A whole SVG file."""
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}">{elements}</svg>'


def band_mark(band: str) -> str:
    """A stud bay with water standing in it, half of it, or air rising; 24 by 24."""
    fill = {
        "wet": f'<path d="M3 7q4.5 -3 9 0t9 0V21H3z" fill="{WATER}"/>',
        "caution": f'<path d="M3 14q4.5 -3 9 0t9 0V21H3z" fill="{HALF}"/>',
        "dry": f'<path d="M9 17v-8m0 0l-3 4m3 -4l3 4M15 14V5m0 0l-3 4m3 -4l3 4" fill="none" stroke="{AIR}" '
        'stroke-width="1.8"/>',
    }[band]
    return f'{fill}<path d="M3 2v19.500h18V2" fill="none" stroke="{INK}" stroke-width="2"/>'


def badge(number: int) -> str:
    """The number of a spot as it stands in the drawing; 36 by 36."""
    return _badge(number, 18, 18)


def _rect(x: int, y: int, width: int, height: int, fill: str, stroke: float = 2) -> str:
    place = f'x="{x}" y="{y}" width="{width}" height="{height}"'
    return f'<rect {place} fill="{fill}" stroke="{INK}" stroke-width="{stroke}"/>'


def _line(x1: int, y1: int, x2: int, y2: int, width: float, colour: str = INK, dashes: str = "") -> str:
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" stroke="{colour}" stroke-width="{width}"{dashed}/>'


def _sheathing() -> Iterator[str]:
    yield _rect(_LEFT + _STUD, 20, _RIGHT - _LEFT - _STUD, _PLATE - 20, BOARD, 1)
    for y in range(84, _PLATE, 14):
        for x in range(104 + y % 4 * 5, _RIGHT - 18, 34):
            yield _line(x, y, x + 14, y, 0.8, GRAIN)


def _stud(left: int) -> Iterator[str]:
    yield _rect(left, 20, _STUD, _PLATE - 20, WOOD)
    for x in range(left + 6, left + _STUD, 6):
        yield _line(x, _CUT + 10, x, _PLATE - 4, 0.8, GRAIN)


def _plate() -> Iterator[str]:
    yield _rect(40, _PLATE, 228, _FLOOR - _PLATE, WOOD)
    for y in range(_PLATE + 6, _FLOOR, 6):
        yield _line(44, y, 264, y, 0.8, GRAIN)


def _wall_board() -> str:
    """What is left of the wall board above the cut."""
    edge = "".join(f"L{x} {_CUT + (x // 12 % 2) * 6}" for x in range(268, 39, -12))
    return f'<path d="M40 4L268 4{edge}L40 {_CUT}z" fill="{WALL}" stroke="{INK}" stroke-width="2"/>'


def _person() -> Iterator[str]:
    """Somebody as tall as the wall is open: what chest height means without a word."""
    body = "M340 79V222M340 222L324 372M340 222L356 372M340 104L320 186M340 104L360 186"
    yield f'<circle cx="340" cy="62" r="17" fill="none" stroke="{INK}" stroke-width="3"/>'
    yield f'<path d="{body}" fill="none" stroke="{INK}" stroke-width="3"/>'
    yield _line(88, _CHEST, 338, _CHEST, 1.5, INK, "6 5")


def _spot(number: int, place: tuple[tuple[int, int, bool], tuple[int, int]]) -> str:
    """A pair of pins and the number that points to it."""
    (x, y, lies), (badge_x, badge_y) = place
    across, up = (9, 0) if lies else (0, 9)
    pins = "".join(
        f'<circle cx="{x + sign * across}" cy="{y + sign * up}" r="4.5" fill="{INK}" stroke="#ffffff" '
        'stroke-width="1.5"/>'
        for sign in (-1, 1)
    )
    return _line(badge_x, badge_y, x, y, 1.5) + pins + _badge(number, badge_x, badge_y)


def _badge(number: int, x: int, y: int) -> str:
    ring = f'<circle cx="{x}" cy="{y}" r="15" fill="#ffffff" stroke="{INK}" stroke-width="2.5"/>'
    return f'{ring}<path d="{_DIGITS[number](x, y)}" fill="none" stroke="{INK}" stroke-width="2.8"/>'


_DIGITS = {
    1: lambda x, y: f"M{x - 4} {y - 4}L{x + 1} {y - 8}V{y + 8}",
    2: lambda x, y: f"M{x - 5} {y - 4}C{x - 5} {y - 11} {x + 6} {y - 10} {x + 5} {y - 3}L{x - 5} {y + 7}H{x + 6}",
    3: lambda x, y: f"M{x - 5} {y - 8}H{x + 5}L{x - 1} {y - 1}C{x + 8} {y - 1} {x + 6} {y + 10} {x - 6} {y + 6}",
    4: lambda x, y: f"M{x + 3} {y + 8}V{y - 8}L{x - 6} {y + 4}H{x + 7}",
}
"""Digits as strokes: a drawing that needs no font looks the same on paper and on a screen."""
