"""Counts and worst cases of many places at once: what the console shows of a household, a town, a county."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from guide_service.drying.mould import Sensitivity, weeks_until_mould_if_closed
from guide_service.drying.policy import Policy
from guide_service.drying.psychrometrics import Array
from guide_service.drying.terms import Band

BAND_CODES = {Band.UNREAD: 0, Band.DRY: 1, Band.CAUTION: 2, Band.WET: 3}
Codes = NDArray[np.integer]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class PlaceTable:
    """Many places as columns of one length."""

    group: Codes
    """What to summarise by, as 0, 1, 2 ...: households, walls or areas."""
    worst_mc: Array
    """Worst wood point [% MC]; ``nan`` = not read, ``inf`` = over range."""
    days_since_check: Array
    """``inf`` = never."""
    passes: Flags
    stalled: Flags
    days_to_limit: Array
    """Forecast, likely [days]; ``nan`` = none."""
    temp_c: Array


@dataclass(frozen=True, slots=True)
class Summary:
    """One row per group."""

    places: Codes
    bands: NDArray[np.int64]
    """(groups, 4): counts of unread, dry, caution, wet (``BAND_CODES``)."""
    passing: Codes
    stalled: Codes
    overdue: Codes
    """Places whose last check is older than the widest window of the policy."""
    worst_mc: Array
    """Largest in range [% MC]; ``nan`` = none."""
    over_range: Codes
    last_dry_in_days: Array
    """Likely day on which the slowest dated place meets the limit; ``nan`` = none dated."""
    mould_weeks: Array
    """Least weeks to mould growth were the worst place closed today (agents only); ``inf`` = none expected."""


def band_codes(worst_mc: Array, policy: Policy) -> NDArray[np.int64]:
    """Band of each place as in ``BAND_CODES``, from its worst wood point [% MC]."""
    codes = np.where(worst_mc < policy.dry_below_mc, 1, np.where(worst_mc > policy.wet_above_mc, 3, 2))
    return np.where(np.isnan(worst_mc), 0, codes).astype(np.int64)


def summarise(table: PlaceTable, groups: int, policy: Policy) -> Summary:
    """Counts, worst cases and dates of ``groups`` groups; linear in the number of places."""
    codes = band_codes(table.worst_mc, policy)
    per_band = np.bincount(table.group * 4 + codes, minlength=groups * 4).reshape(groups, 4)
    over = np.isinf(table.worst_mc)
    widest = max(window.latest for window in policy.next_check_days.values())
    finite = np.where(np.isfinite(table.worst_mc), table.worst_mc, np.nan)
    return Summary(
        places=_count(table.group, np.ones(table.group.size, bool), groups),
        bands=per_band,
        passing=_count(table.group, table.passes, groups),
        stalled=_count(table.group, table.stalled, groups),
        overdue=_count(table.group, ~table.passes & (table.days_since_check > widest), groups),
        worst_mc=_extreme(table.group, finite, groups, np.fmax, -np.inf),
        over_range=_count(table.group, over, groups),
        last_dry_in_days=_extreme(table.group, table.days_to_limit, groups, np.fmax, -np.inf),
        mould_weeks=_mould(table, groups),
    )


def _count(group: Codes, flag: Flags, groups: int) -> NDArray[np.int64]:
    return np.bincount(group[flag], minlength=groups)


def _extreme(group: Codes, values: Array, groups: int, pick: np.ufunc, empty: float) -> Array:
    """Largest or smallest value of each group, ``nan`` where a group has none."""
    out = np.full(groups, empty)
    pick.at(out, group, np.where(np.isnan(values), empty, values))
    return np.where(out == empty, np.nan, out)


def _mould(table: PlaceTable, groups: int) -> Array:
    wet = np.where(np.isinf(table.worst_mc), 60.0, table.worst_mc)
    known = ~np.isnan(wet)
    weeks = np.full(wet.shape, np.inf)
    weeks[known] = weeks_until_mould_if_closed(
        np.clip(wet[known], 0.0, 100.0), np.clip(table.temp_c[known], -20.0, 60.0), Sensitivity.SENSITIVE
    )
    out = np.full(groups, np.inf)
    np.minimum.at(out, table.group, weeks)
    return out
