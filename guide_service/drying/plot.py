"""A picture of one place as SVG: readings with their censoring, bands, the fitted approach with its range, the date.

Readable in black and white: each point of a bay has a mark of its own, bands differ by their edge lines and words, a
number out of range carries an arrow. The words come from the caller (a label map), so that the picture follows the
console's language; nothing else in it is text but numbers and dates. The same arguments give the same bytes.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from guide_service.drying.assessment import Forecast, ForecastKind
from guide_service.drying.forecast import Crossing
from guide_service.drying.policy import Policy
from guide_service.drying.terms import Point, Qualifier, Reading

WIDTH, HEIGHT = 640, 320
LEFT, RIGHT, TOP, BOTTOM = 46, 92, 16, 40
LOWEST_MC, HIGHEST_MC = 5.0, 32.0
MARK = 4.5
LONGEST_CURVE_DAYS = 240
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
class Curve:
    """The fitted approach: level on ``start``, end and time constant [% MC, days]."""

    start: dt.date
    level: float
    end: float
    tau: float

    @classmethod
    def of(cls, crossing: Crossing, row: int, newest: dt.date) -> Curve:
        """The curve of one row of a fitted batch."""
        return cls(newest, float(crossing.level[row]), float(crossing.end[row]), float(crossing.tau[row]))

    def at(self, days: float, pace: float = 1.0) -> float:
        """Level [% MC] after ``days``, the whole approach run at another pace."""
        return self.end + (self.level - self.end) * math.exp(-days * pace / self.tau)

    def pace_to(self, limit: float, days: float) -> float | None:
        """Pace at which the approach meets ``limit`` after ``days``; ``None`` where it never does."""
        if self.level <= limit or self.end >= limit or days <= 0.0:
            return None
        return self.tau * math.log((self.level - self.end) / (limit - self.end)) / days


@dataclass(frozen=True, slots=True)
class _Frame:
    first: dt.date
    last: dt.date

    def x(self, day: dt.date) -> float:
        span = max((self.last - self.first).days, 1)
        return LEFT + (WIDTH - LEFT - RIGHT) * (day - self.first).days / span

    def y(self, mc: float) -> float:
        bounded = min(max(mc, LOWEST_MC), HIGHEST_MC)
        return TOP + (HEIGHT - TOP - BOTTOM) * (HIGHEST_MC - bounded) / (HIGHEST_MC - LOWEST_MC)


def plot_place(
    readings: Sequence[Reading],
    policy: Policy,
    forecast: Forecast | None = None,
    curve: Curve | None = None,
    labels: Mapping[str, str] | None = None,
    name: str = "",
) -> str:
    """SVG text of one place; wood readings with a value only. Without readings an empty frame is drawn."""
    words = {**DEFAULT_LABELS, **(labels or {})}
    shown = [one for one in readings if one.value is not None and math.isfinite(one.value)]
    frame = _frame_of(shown, forecast)
    title = f"{name}: {words['title']}" if name else words["title"]
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        f'font-family="sans-serif" font-size="12">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>',
        *_bands(frame, policy, words),
        *_axis(frame),
        *_range(frame, forecast, policy),
        *_curve(frame, curve, forecast, policy),
        *(_mark(frame, one) for one in shown),
        *_legend(shown, words),
        "</svg>",
    ]
    return "\n".join(parts)


def _frame_of(shown: Sequence[Reading], forecast: Forecast | None) -> _Frame:
    days = [one.taken_on for one in shown] or [dt.date(2000, 1, 1)]
    last = max(days)
    if forecast is not None and forecast.latest is not None:
        last = max(last, forecast.latest)
    return _Frame(min(days) - dt.timedelta(days=1), max(last, min(days) + dt.timedelta(days=7)) + dt.timedelta(days=2))


def _bands(frame: _Frame, policy: Policy, words: Mapping[str, str]) -> list[str]:
    """Two limit lines of different dashes, a light tint between them, and the words of the bands at the right edge."""
    right = WIDTH - RIGHT
    dry, wet = frame.y(policy.dry_below_mc), frame.y(policy.wet_above_mc)
    tint = f'<rect x="{LEFT}" y="{wet:.1f}" width="{right - LEFT}" height="{dry - wet:.1f}" fill="#f1f1f1"/>'
    lines = [
        f'<line x1="{LEFT}" x2="{right}" y1="{y:.1f}" y2="{y:.1f}" stroke="#000" stroke-dasharray="{dash}"/>'
        for y, dash in ((dry, "1 3"), (wet, "8 3"))
    ]
    middles = ((TOP + wet) / 2, (wet + dry) / 2, (dry + HEIGHT - BOTTOM) / 2)
    texts = [
        f'<text x="{right + 8}" y="{y + 4:.1f}" font-weight="bold">{escape(words[word])}</text>'
        for y, word in zip(middles, ("wet", "caution", "dry"), strict=True)
    ]
    return [tint, *lines, *texts]


def _axis(frame: _Frame) -> list[str]:
    base, right = HEIGHT - BOTTOM, WIDTH - RIGHT
    parts = [f'<path d="M{LEFT} {TOP}V{base}H{right}" fill="none" stroke="#000"/>']
    for mc in (10, 15, 20, 25, 30):
        y = frame.y(mc)
        parts.append(f'<line x1="{LEFT - 4}" x2="{LEFT}" y1="{y:.1f}" y2="{y:.1f}" stroke="#000"/>')
        parts.append(f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{mc}</text>')
    step = max((frame.last - frame.first).days // 6, 1)
    for days in range(0, (frame.last - frame.first).days + 1, step):
        day = frame.first + dt.timedelta(days=days)
        x = frame.x(day)
        parts.append(f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{base}" y2="{base + 4}" stroke="#000"/>')
        parts.append(f'<text x="{x:.1f}" y="{base + 17}" text-anchor="middle">{day:%m-%d}</text>')
    return parts


def _range(frame: _Frame, forecast: Forecast | None, policy: Policy) -> list[str]:
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
        f'<path d="M{left:.1f} {y:.1f}H{right:.1f}{ends}" fill="none" stroke="#000" stroke-width="2.5"/>',
        f'<path d="{diamond}" fill="#fff" stroke="#000" stroke-width="1.5"/>',
    ]


def _curve(frame: _Frame, curve: Curve | None, forecast: Forecast | None, policy: Policy) -> list[str]:
    """The approach at the pace of the likely day (full line) and of both ends of the range (dashed)."""
    if curve is None:
        return []
    days = [] if forecast is None else [forecast.earliest, forecast.likely, forecast.latest]
    dated = [day for day in days if day is not None]
    paces = [curve.pace_to(policy.dry_below_mc, (day - curve.start).days) for day in dated]
    drawn = list(zip(("4 3", "", "4 3"), paces, strict=True)) if len(paces) == 3 else [("", 1.0)]
    return [_line(frame, curve, pace, dash) for dash, pace in drawn if pace is not None]


def _line(frame: _Frame, curve: Curve, pace: float, dash: str) -> str:
    count = min((frame.last - curve.start).days, LONGEST_CURVE_DAYS)
    steps = [(curve.start + dt.timedelta(days=k), curve.at(k, pace)) for k in range(0, max(count, 0) + 1, 2)]
    points = " ".join(f"{frame.x(day):.1f},{frame.y(mc):.1f}" for day, mc in steps)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<polyline points="{points}" fill="none" stroke="#000" stroke-width="1.2"{dashes}/>'


def _shape(point: Point, x: float, y: float) -> str:
    """A mark per point: disc, square, triangle, and a ring for every other."""
    if point is Point.LOW_STUD:
        return f'<rect x="{x - MARK:.1f}" y="{y - MARK:.1f}" width="{2 * MARK}" height="{2 * MARK}" fill="#777"/>'
    if point is Point.MID_STUD:
        return f'<path d="M{x:.1f} {y - 5:.1f}l5 9h-10z" fill="#fff" stroke="#000" stroke-width="1.5"/>'
    fill = "#000" if point is Point.PLATE else "#fff"
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{MARK}" fill="{fill}" stroke="#000" stroke-width="1.5"/>'


def _mark(frame: _Frame, reading: Reading) -> str:
    x, y = frame.x(reading.taken_on), frame.y(reading.value or 0.0)
    shape = _shape(reading.point, x, y)
    if reading.qualifier is Qualifier.EXACT:
        return shape
    up = -1 if reading.qualifier is Qualifier.ABOVE else 1
    arrow = f"M{x:.1f} {y + 7 * up:.1f}v{9 * up}m-4 {-4 * up}l4 {4 * up}l4 {-4 * up}"
    return f'{shape}<path d="{arrow}" fill="none" stroke="#000" stroke-width="1.5"/>'


def _legend(shown: Sequence[Reading], words: Mapping[str, str]) -> list[str]:
    """Only the points that were read, in the order of a bay, under the axis."""
    present = [point for point in Point if any(one.point is point for one in shown)]
    parts = []
    for k, point in enumerate(present):
        x = LEFT + 8 + 110 * k
        parts.append(_shape(point, x, HEIGHT - 9))
        parts.append(f'<text x="{x + 10}" y="{HEIGHT - 5}">{escape(words[point.value])}</text>')
    return parts
