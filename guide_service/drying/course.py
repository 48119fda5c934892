"""The course of one place as it was fitted and as it is expected: a line, and the range that holds with 80 %.

Levels are relative to the limit on the meter's own scale, less what the air wanders, as the dates are: so the three
lines cross the limit on the very days that a household is told. That is a few tenths of a % MC above the fitted level.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from guide_service.drying.forecast import Batch, Draws, draws_of, range_of

STEPS_AHEAD = 48
LONGEST_PAST_DAYS = 60.0
"""An exponential run far backwards says nothing of where the wood came from."""


@dataclass(frozen=True, slots=True)
class Course:
    """Days from the newest check and levels [% MC]."""

    fitted: tuple[tuple[float, float], ...]
    """(day, level) through the checks that were fitted; days are negative up to 0."""
    ahead: tuple[tuple[float, float, float, float], ...]
    """(day, low, likely, high)."""


def course_of(batch: Batch, limit: float, days_ahead: float) -> Course:
    """Of the first row of a batch; ``days_ahead`` from its newest check."""
    drawn = draws_of(batch, limit)
    ahead = np.linspace(0.0, max(days_ahead, 1.0), STEPS_AHEAD)
    pace = np.exp(-drawn.drawn_log_tau[0])[:, None]
    end = drawn.drawn_end[0][:, None]
    levels = end + (drawn.drawn_level[0][:, None] - end) * np.exp(-ahead[None, :] * pace)
    low, likely, high = range_of((levels - drawn.bar[0][:, None] + limit).T)
    shift = float(np.median(limit - drawn.bar[0]))
    rows = zip(*(map(float, each) for each in (ahead, low, likely, high)), strict=True)
    return Course(_past(batch, drawn, shift), tuple(rows))


def _past(batch: Batch, drawn: Draws, shift: float) -> tuple[tuple[float, float], ...]:
    used = batch.days[0][batch.kind[0] != 2]
    first = max(float(used.min()), -LONGEST_PAST_DAYS) if used.size else 0.0
    days = np.linspace(first, 0.0, 24)
    gap = drawn.level[0] - drawn.end[0]
    fitted = drawn.end[0] + gap * np.exp(-days * np.exp(-drawn.log_tau[0])) + shift
    return tuple((float(day), float(mc)) for day, mc in zip(days, fitted, strict=True))
