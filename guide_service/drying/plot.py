"""A picture of one place as SVG: readings with their censoring, bands, the fitted course with its range, the date.

Readable in black and white: each point of a bay has a mark of its own, bands differ by their edge lines and words, a
number out of range carries an arrow. The words come from the caller (a label map), so that the picture follows the
console's language; nothing else in it is text but numbers and dates. The same arguments give the same bytes.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from guide_service.drying.assessment import Forecast, ForecastKind
from guide_service.drying.course import Course
from guide_service.drying.policy import Policy
from guide_service.drying.terms import Point, Qualifier, Reading

WIDTH, HEIGHT = 420, 250
"""Of the frame and its words: as wide as a phone shows without making them small, and as half a page of paper does."""
LEFT, RIGHT, TOP, BOTTOM = 36, 84, 12, 40
DAYS_NAMED = 4
"""Steps of the axis: so many days, and one more, stand beside each other without touching."""
LEGEND_WIDE, LEGEND_HIGH = 120, 17
LOWEST_MC, HIGHEST_MC = 5.0, 32.0
MARK = 4.5
DEFAULT_LABELS = {
    "title": "Moisture content of a place, % of dry mass",
    "wet": "wet",
    "caution": "caution",
    "dry": "dry",
    "plate": "plate",
    "low_stud": "low stud",
    "mid_stud": "mid stud",
    "sheathing": "sheathing",
    "wood": "wood",
    "surface": "surface",
}


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours of ink and paper. Nothing in the picture is told by colour."""

    ink: str = "#000"
    paper: str = "#fff"
    between: str = "#f1f1f1"
    """Between the two limits."""
    range: str = "#cfcfcf"
    """The 80 % range of the course."""
    stud: str = "#777"


LIGHT = Theme()
DARK = Theme("#e6ebeb", "#1a2328", "#243038", "#51626b", "#97a4a9")
"""The paper of the console's dark pages."""


@dataclass(frozen=True, slots=True)
class _Frame:
    first: dt.date
    last: dt.date

    def x(self, day: dt.date) -> float:
        span = max((self.last - self.first).days, 1)
        return LEFT + (WIDTH - LEFT - RIGHT) * (day - self.first).days / span

    def x_of(self, newest: dt.date, days: float) -> float:
        """Days from the newest check, also parts of a day."""
        span = max((self.last - self.first).days, 1)
        return LEFT + (WIDTH - LEFT - RIGHT) * ((newest - self.first).days + days) / span

    def y(self, mc: float) -> float:
        bounded = min(max(mc, LOWEST_MC), HIGHEST_MC)
        return TOP + (HEIGHT - TOP - BOTTOM) * (HIGHEST_MC - bounded) / (HIGHEST_MC - LOWEST_MC)


def iso_day(day: dt.date) -> str:
    return f"{day:%m-%d}"


def plot_place(
    readings: Sequence[Reading],
    policy: Policy,
    forecast: Forecast | None = None,
    course: Course | None = None,
    labels: Mapping[str, str] | None = None,
    name: str = "",
    *,
    told: str = "",
    day: Callable[[dt.date], str] = iso_day,
    theme: Theme = LIGHT,
) -> str:
    """SVG text of one place; wood readings with a value only. Without readings an empty frame is drawn.

    ``told`` says in words what the picture shows, for whoever does not see it. Elements carry classes (``ink``,
    ``paper``, ``between``, ``range``, ``stud``, ``words``), so that a page that holds the picture may dress it.
    """
    words = {**DEFAULT_LABELS, **(labels or {})}
    shown = [one for one in readings if one.value is not None and math.isfinite(one.value)]
    newest = max((one.taken_on for one in shown), default=None)
    frame = _frame_of(shown, newest, forecast, course)
    title = f"{name}: {words['title']}" if name else words["title"]
    named = _legend(shown, words, theme)
    high = HEIGHT + LEGEND_HIGH * max(len(named) - 1, 0)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {high}" role="img" '
        f'aria-label="{escape(f"{title}. {told}" if told else title)}" '
        f'font-family="sans-serif" font-size="12" fill="{theme.ink}">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{WIDTH}" height="{high}" fill="{theme.paper}" class="paper"/>',
        _between(frame, policy, theme),
        *_course(frame, newest, course, theme),
        *_bands(frame, policy, words, theme),
        *_axis(frame, day, theme),
        *_range(frame, forecast, policy, theme),
        *(_mark(frame, one, theme) for one in shown),
        *named,
        "</svg>",
    ]
    return "\n".join(parts)


def _frame_of(
    shown: Sequence[Reading], newest: dt.date | None, forecast: Forecast | None, course: Course | None
) -> _Frame:
    days = [one.taken_on for one in shown] or [dt.date(2000, 1, 1)]
    last = max(days)
    if forecast is not None and forecast.latest is not None:
        last = max(last, forecast.latest)
    if course is not None and newest is not None:
        last = max(last, newest + dt.timedelta(days=math.ceil(course.ahead[-1][0])))
    return _Frame(min(days) - dt.timedelta(days=1), max(last, min(days) + dt.timedelta(days=7)) + dt.timedelta(days=2))


def _between(frame: _Frame, policy: Policy, theme: Theme) -> str:
    """A light tint between the limits."""
    dry, wet = frame.y(policy.dry_below_mc), frame.y(policy.wet_above_mc)
    size = f'width="{WIDTH - RIGHT - LEFT}" height="{dry - wet:.1f}"'
    return f'<rect x="{LEFT}" y="{wet:.1f}" {size} fill="{theme.between}" class="between"/>'


def _bands(frame: _Frame, policy: Policy, words: Mapping[str, str], theme: Theme) -> list[str]:
    """Two limit lines of different dashes, and the words of the bands at the right edge."""
    right = WIDTH - RIGHT
    dry, wet = frame.y(policy.dry_below_mc), frame.y(policy.wet_above_mc)
    lines = [
        f'<line x1="{LEFT}" x2="{right}" y1="{y:.1f}" y2="{y:.1f}" stroke="{theme.ink}" stroke-dasharray="{dash}" '
        'class="ink"/>'
        for y, dash in ((dry, "1 3"), (wet, "8 3"))
    ]
    middles = ((TOP + wet) / 2, (wet + dry) / 2, (dry + HEIGHT - BOTTOM) / 2)
    texts = [
        f'<text x="{right + 8}" y="{y + 4:.1f}" font-weight="bold">{escape(words[word])}</text>'
        for y, word in zip(middles, ("wet", "caution", "dry"), strict=True)
    ]
    return [*lines, *texts]


def _axis(frame: _Frame, day_said: Callable[[dt.date], str], theme: Theme) -> list[str]:
    base, right = HEIGHT - BOTTOM, WIDTH - RIGHT
    parts = [f'<path d="M{LEFT} {TOP}V{base}H{right}" fill="none" stroke="{theme.ink}" class="ink"/>']
    for mc in (10, 15, 20, 25, 30):
        y = frame.y(mc)
        parts.append(f'<line x1="{LEFT - 4}" x2="{LEFT}" y1="{y:.1f}" y2="{y:.1f}" stroke="{theme.ink}" class="ink"/>')
        parts.append(f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{mc}</text>')
    step = max(math.ceil((frame.last - frame.first).days / DAYS_NAMED), 1)
    for days in range(0, (frame.last - frame.first).days + 1, step):
        day = frame.first + dt.timedelta(days=days)
        x = frame.x(day)
        parts.append(f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{base}" y2="{base + 4}" stroke="{theme.ink}" class="ink"/>')
        parts.append(f'<text x="{x:.1f}" y="{base + 17}" text-anchor="middle">{escape(day_said(day))}</text>')
    return parts


def _range(frame: _Frame, forecast: Forecast | None, policy: Policy, theme: Theme) -> list[str]:
    """The forecast as a bar with end strokes on the limit line, the likely day as a diamond."""
    if forecast is None or forecast.kind is not ForecastKind.DATE:
        return []
    if forecast.earliest is None or forecast.likely is None or forecast.latest is None:
        return []
    y = frame.y(policy.dry_below_mc)
    left, middle, right = (frame.x(day) for day in (forecast.earliest, forecast.likely, forecast.latest))
    ends = "".join(f"M{x:.1f} {y - 7:.1f}V{y + 7:.1f}" for x in (left, right))
    diamond = f"M{middle:.1f} {y - 6:.1f}l5 6l-5 6l-5 -6z"
    return [
        f'<path d="M{left:.1f} {y:.1f}H{right:.1f}{ends}" fill="none" stroke="{theme.ink}" stroke-width="2.5" '
        'class="ink"/>',
        f'<path d="{diamond}" fill="{theme.paper}" stroke="{theme.ink}" stroke-width="1.5" class="ink paper"/>',
    ]


def _course(frame: _Frame, newest: dt.date | None, course: Course | None, theme: Theme) -> list[str]:
    """The fitted course (thin), what is expected (full line), and the range that holds with 80 % (grey, dashed)."""
    if course is None or newest is None:
        return []
    rows = [(frame.x_of(newest, row[0]), *map(frame.y, row[1:])) for row in course.ahead]
    low, likely, high = ([(row[0], row[k]) for row in rows] for k in (1, 2, 3))
    past = [(frame.x_of(newest, day), frame.y(mc)) for day, mc in course.fitted]
    edge = f'fill="none" stroke="{theme.ink}" stroke-width="0.9" stroke-dasharray="4 3" class="ink"'
    return [
        f'<polygon points="{_points([*low, *reversed(high)])}" fill="{theme.range}" class="range"/>',
        f'<polyline points="{_points(past)}" fill="none" stroke="{theme.ink}" stroke-width="0.9" class="ink"/>',
        f'<polyline points="{_points(low)}" {edge}/>',
        f'<polyline points="{_points(high)}" {edge}/>',
        f'<polyline points="{_points(likely)}" fill="none" stroke="{theme.ink}" stroke-width="2" class="ink"/>',
    ]


def _points(places: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in places)


def _shape(point: Point, x: float, y: float, theme: Theme) -> str:
    """A mark per point: disc, square, triangle, and a ring for every other."""
    if point is Point.LOW_STUD:
        size = f'width="{2 * MARK}" height="{2 * MARK}"'
        return f'<rect x="{x - MARK:.1f}" y="{y - MARK:.1f}" {size} fill="{theme.stud}" class="stud"/>'
    if point is Point.MID_STUD:
        return f'<path d="M{x:.1f} {y - 5:.1f}l5 9h-10z" fill="{theme.paper}" {_edge(theme)} class="ink paper"/>'
    fill, dress = (theme.ink, "ink solid") if point is Point.PLATE else (theme.paper, "ink paper")
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{MARK}" fill="{fill}" {_edge(theme)} class="{dress}"/>'


def _edge(theme: Theme) -> str:
    return f'stroke="{theme.ink}" stroke-width="1.5"'


def _mark(frame: _Frame, reading: Reading, theme: Theme) -> str:
    x, y = frame.x(reading.taken_on), frame.y(reading.value or 0.0)
    shape = _shape(reading.point, x, y, theme)
    if reading.qualifier is Qualifier.EXACT:
        return shape
    up = -1 if reading.qualifier is Qualifier.ABOVE else 1
    arrow = f"M{x:.1f} {y + 7 * up:.1f}v{9 * up}m-4 {-4 * up}l4 {4 * up}l4 {-4 * up}"
    return f'{shape}<path d="{arrow}" fill="none" {_edge(theme)} class="ink"/>'


def _legend(shown: Sequence[Reading], words: Mapping[str, str], theme: Theme) -> list[str]:
    """Only the points that were read, in the order of a bay, under the axis; one text for each row of them."""
    present = [point for point in Point if any(one.point is point for one in shown)]
    a_row = (WIDTH - LEFT) // LEGEND_WIDE
    rows = [present[start : start + a_row] for start in range(0, len(present), a_row)]
    return ["\n".join(_named(row, HEIGHT - 5 + LEGEND_HIGH * k, words, theme)) for k, row in enumerate(rows)]


def _named(row: Sequence[Point], base: float, words: Mapping[str, str], theme: Theme) -> list[str]:
    parts = []
    for k, point in enumerate(row):
        x = LEFT + 8 + LEGEND_WIDE * k
        parts.append(_shape(point, x, base - 4, theme))
        parts.append(f'<text x="{x + 10}" y="{base}">{escape(words[point.value])}</text>')
    return parts
