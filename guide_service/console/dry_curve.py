"""Expected dry dates as a curve: how many households are expected dry by the end of each week. SVG, drawn here.

Readable without colour: the likely day is a full line, the late end of the range a dashed one, each named at its end.
It takes its ink from the page, so that it is right in the light and in the dark. The same figures give the same bytes.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from guide_service.followup.county_counts import monday

WIDTH, HEIGHT = 480, 260
LEFT, RIGHT, TOP, BOTTOM = 52, 112, 16, 34
LEAST_WEEKS, MOST_WEEKS = 4, 26
"""What is expected later than half a year from now says only "later"."""
LABEL_APART = 16.0
LABEL_ROOM = 16
"""Characters of a name at the end of a line that the room right of it holds."""

Weeks = Sequence[tuple[dt.date | None, int]]


@dataclass(frozen=True, slots=True)
class Week:
    """One row of the table beside the curve."""

    end: dt.date
    likely: int
    late: int
    """Households expected dry by then, by the likely day and by the late end of the range."""


def by_week(likely: Weeks, late: Weeks, today: dt.date) -> list[Week]:
    """From today's week on, cumulated, no further than anything is expected."""
    first = monday(today)
    last = max((week for week, _ in (*likely, *late) if week), default=first)
    count = min(max((last - first).days // 7 + 1, LEAST_WEEKS), MOST_WEEKS)
    weeks = [first + dt.timedelta(weeks=n) for n in range(count)]
    return [Week(week + dt.timedelta(days=6), _up_to(likely, week), _up_to(late, week)) for week in weeks]


def _up_to(weeks: Weeks, last: dt.date) -> int:
    return sum(number for week, number in weeks if week is None or week <= last)


@dataclass(frozen=True, slots=True)
class _Frame:
    weeks: int
    most: int

    def x(self, week: int) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * week / self.weeks

    def y(self, number: float) -> float:
        return TOP + (HEIGHT - TOP - BOTTOM) * (1 - number / self.most)


def draw(
    weeks: Sequence[Week],
    passed: tuple[int, int],
    not_dry: int,
    words: Mapping[str, str],
    day: Callable[[dt.date], str],
) -> str:
    """``passed``: households whose likely day, and whose late end, is over; ``not_dry``: all that are not dry yet."""
    frame = _Frame(len(weeks), _round_up(max(not_dry, weeks[-1].likely, weeks[-1].late)))
    likely, late = [passed[0], *(week.likely for week in weeks)], [passed[1], *(week.late for week in weeks)]
    ends = _apart([frame.y(likely[-1]), frame.y(late[-1]), frame.y(not_dry)])
    labels = zip(("likely", "late", "all"), ends, strict=True)
    parts = [
        f'<svg class="curve" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img">',
        f"<title>{escape(words['title'])}</title>",
        *_axes(frame, weeks, day),
        f'<path class="all" d="M{LEFT} {frame.y(not_dry):.1f}H{WIDTH - RIGHT}"/>',
        _line("late", frame, late),
        _line("likely", frame, likely),
        *(f'<text x="{WIDTH - RIGHT + 8}" y="{y + 4:.1f}">{escape(words[name])}</text>' for name, y in labels),
        "</svg>",
    ]
    return "\n".join(parts)


def _line(name: str, frame: _Frame, numbers: Sequence[int]) -> str:
    points = " ".join(f"{frame.x(week):.1f},{frame.y(number):.1f}" for week, number in enumerate(numbers))
    return f'<polyline class="{name}" points="{points}"/>'


def _axes(frame: _Frame, weeks: Sequence[Week], day: Callable[[dt.date], str]) -> list[str]:
    base = HEIGHT - BOTTOM
    parts = [f'<path class="axis" d="M{LEFT} {TOP}V{base}H{WIDTH - RIGHT}"/>']
    for number in _steps(frame.most):
        y = frame.y(number)
        parts.append(f'<path class="axis" d="M{LEFT - 4} {y:.1f}H{LEFT}"/>')
        parts.append(f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{number}</text>')
    every = math.ceil(len(weeks) / 6)
    for place in range(every, len(weeks) + 1, every):
        x = frame.x(place)
        parts.append(f'<path class="axis" d="M{x:.1f} {base}V{base + 4}"/>')
        parts.append(
            f'<text x="{x:.1f}" y="{base + 19}" text-anchor="middle">{escape(day(weeks[place - 1].end))}</text>'
        )
    return parts


def _round_up(number: int) -> int:
    """The next of 4, 10, 20, 40, 100 ...: whole steps on the axis."""
    step = 1
    while True:
        for top in (4 * step, 10 * step, 20 * step):
            if number <= top:
                return top
        step *= 10


def _steps(most: int) -> list[int]:
    parts = 4 if most % 4 == 0 else 5
    return [most * part // parts for part in range(parts + 1)]


def _apart(places: list[float]) -> list[float]:
    """The names at the ends of the lines, moved down until none stands on another."""
    moved = dict.fromkeys(range(len(places)), 0.0)
    free = -math.inf
    for index in sorted(moved, key=lambda each: places[each]):
        free = moved[index] = max(places[index], free)
        free += LABEL_APART
    over = max(moved.values()) - (HEIGHT - BOTTOM - 4)
    return [moved[index] - max(over, 0.0) for index in range(len(places))]
