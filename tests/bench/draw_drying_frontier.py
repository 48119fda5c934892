"""Draw wrong decisions against days lost: our rule at several levels, fixed limits in one round and in two.

Run: python -m tests.bench.draw_drying_frontier docs/pictures/drying-frontier.svg
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

from guide_service.drying.policy import Policy
from guide_service.rehearsal.drying_world import build, read
from tests.bench.bench_drying_decisions import METERS, PER_HOUSE, SEED
from tests.bench.drying_fixed_rules import frontier
from tests.bench.drying_judge import last_wet_day, live, lives, score

HOUSES = 300
LEVELS = (0.8, 0.9, 0.95, 0.975)
WIDTH, HEIGHT, LEFT, TOP, PANEL = 680, 345, 56, 34, 280
LARGEST_SHARE = {"central": 0.03, "adverse": 0.12}
LARGEST_DAYS = 70.0

Point = tuple[float, float, str]


def measured(name: str) -> tuple[list[Point], list[Point], list[Point]]:
    """(share at or above 16 %, mean days lost, mark) of ours, of fixed limits in one round, in two."""
    houses, life = build(SEED + 50, HOUSES, PER_HOUSE), lives(HOUSES, SEED + 51)
    shown, stays = read(houses, SEED + 52, METERS[name][0]), last_wet_day(houses)
    ours = []
    for level in LEVELS:
        found = score(live(houses, shown, life, replace(Policy(), confidence=level)).decided, houses, stays)
        ours.append((found.harm_share, found.lost_mean, f"{level:g}"))
    fixed = [
        (rule, found.harm_share, found.lost_mean) for rule, found in frontier(houses, shown, life, stays, step=0.25)
    ]
    one, two = ([(a, b, f"{rule.limit:g}") for rule, a, b in fixed if rule.rounds == rounds] for rounds in (1, 2))
    return ours, one, two


def panel(name: str, offset: float) -> list[str]:
    most, bound = LARGEST_SHARE[name], METERS[name][1]
    base = TOP + 250

    def at(point: Point) -> tuple[float, float]:
        return offset + PANEL * 0.9 * point[0] / most, base - 250 * point[1] / LARGEST_DAYS

    parts = [
        f'<path d="M{offset} {TOP}V{base}H{offset + PANEL * 0.9}" fill="none" stroke="#000"/>',
        f'<text x="{offset}" y="{TOP - 12}" font-weight="bold">{name} meter</text>',
    ]
    for k in range(1, 4):
        x, y = offset + PANEL * 0.3 * k, base - 250 * 20 * k / LARGEST_DAYS
        parts.append(f'<text x="{x:.0f}" y="{base + 16}" text-anchor="middle">{100 * most * k / 3:.0f} %</text>')
        parts.append(f'<text x="{offset - 6}" y="{y + 4:.0f}" text-anchor="end">{20 * k}</text>')
    x = offset + PANEL * 0.9 * bound / most
    parts.append(f'<line x1="{x:.0f}" x2="{x:.0f}" y1="{TOP}" y2="{base}" stroke="#000" stroke-dasharray="2 4"/>')
    for points, dash, mark in zip(measured(name), ("", "7 3", "1 3"), ("disc", "", ""), strict=True):
        shown = [point for point in points if point[0] <= most and point[1] <= LARGEST_DAYS]
        line = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(at, shown))
        parts.append(f'<polyline points="{line}" fill="none" stroke="#000" stroke-dasharray="{dash}"/>')
        for point in shown if mark else []:
            x, y = at(point)
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.5"/>')
            parts.append(f'<text x="{x + 6:.1f}" y="{y - 6:.1f}">{point[2]}</text>')
    return parts


def main(path: str) -> int:
    legend = HEIGHT - 8
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        'font-family="sans-serif" font-size="11">',
        "<title>Wrong decisions (across) against mean days lost (up): our rule and fixed limits</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>',
        *panel("central", LEFT),
        *panel("adverse", LEFT + PANEL + 50),
        f'<text x="{LEFT}" y="{legend - 14}">full line: our rule by its level; dashes: a fixed limit in one round; '
        "dots: in two rounds</text>",
        f'<text x="{LEFT}" y="{legend}">across: truth at or above 16 % at the decision; up: mean days lost; '
        "upright: the bound</text>",
        "</svg>",
    ]
    Path(path).write_text("\n".join(parts) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
