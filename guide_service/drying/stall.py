"""Two findings that ask for somebody's attention: a place that does not dry, and one that turned wet again."""

from __future__ import annotations

from collections.abc import Sequence

from guide_service.drying.assessment import Cause, Finding, FindingKind
from guide_service.drying.history import Check, History, points_needed, worst
from guide_service.drying.policy import Policy
from guide_service.drying.terms import Qualifier


def findings_of(history: History, policy: Policy) -> list[Finding]:
    """Stall and rewetting findings of one place, from counting readings only."""
    checks = [check for check in history.checks if check.counting]
    found = []
    if rewetted(checks, policy):
        found.append(Finding(FindingKind.REWETTED, (history.place.label,), Cause.NEW_WATER))
    elif stalled(history, checks, policy):
        found.append(Finding(FindingKind.STALLED, (history.place.label,)))
    return found


def stalled(history: History, checks: Sequence[Check], policy: Policy) -> bool:
    """At least ``stall_checks`` full checks over ``stall_days`` that drop less than repeatability, none over range."""
    full = [check for check in checks if len(check.wood) + len(check.aside) >= points_needed(history.place, policy)]
    window = _shortest_window(full, policy)
    tops = [top for check in window if (top := worst(check)) is not None]
    if not tops or any(top.reading.qualifier is Qualifier.ABOVE for top in tops):
        return False
    if tops[-1].mc < policy.dry_below_mc:
        return False
    return tops[0].mc - tops[-1].mc <= policy.repeatability_mc


def _shortest_window(checks: Sequence[Check], policy: Policy) -> Sequence[Check]:
    for start in range(len(checks) - policy.stall_checks, -1, -1):
        if (checks[-1].on - checks[start].on).days >= policy.stall_days:
            return checks[start:]
    return ()


def rewetted(checks: Sequence[Check], policy: Policy) -> bool:
    """Whether the worst point rose beyond repeatability above its lowest, or went over range after it was in range."""
    tops = [top for check in checks if (top := worst(check)) is not None]
    if len(tops) < 2:
        return False
    last, before = tops[-1], tops[:-1]
    in_range = [top.mc for top in before if top.reading.qualifier is not Qualifier.ABOVE]
    if not in_range:
        return False
    if last.reading.qualifier is Qualifier.ABOVE:
        return True
    return last.mc - min(in_range) > policy.repeatability_mc
