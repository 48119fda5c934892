"""What a version of the policy says, line by line: shown, laid beside another version, and beside the county file."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from guide_service.county_decided import Rules


@dataclass(frozen=True, slots=True)
class Line:
    """``name`` is permanent: it stands in stored versions and in the audit."""

    name: str
    label: str
    value: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    name: str
    label: str
    old: str
    new: str
    source: str
    """What the new value rests on."""
    laxer: bool = False
    """It lets more pass than the county file, and somebody ticked that this is meant."""


@dataclass(frozen=True, slots=True)
class Strictness:
    """How a limit is measured, and which way it lets more pass."""

    measure: Callable[[Rules], tuple[float, ...]]
    laxer_when: int
    """+1: a larger value lets more pass, -1: a smaller one."""

    def laxer(self, new: Rules, than: Rules) -> bool:
        pairs = zip(self.measure(new), self.measure(than), strict=False)
        return any((mine - theirs) * self.laxer_when > 0 for mine, theirs in pairs)


def differences(old: Sequence[Line], new: Sequence[Line], laxer: Mapping[str, object]) -> list[Change]:
    """Every line whose value or source is not the same, the new ones in their order and then those that are gone."""
    before, after = {line.name: line for line in old}, {line.name: line for line in new}
    gone = [line for line in old if line.name not in after]
    changed = []
    for line in (*new, *gone):
        was, now = before.get(line.name), after.get(line.name)
        if was != now:
            values = was.value if was else "", now.value if now else ""
            changed.append(Change(line.name, line.label, *values, now.source if now else "", line.name in laxer))
    return changed


def speaks_of(source: str, value: str) -> bool:
    """Whether a source names this very figure: it cannot stand for another one."""
    return bool(re.search(rf"(?<![\d.]){re.escape(value)}(?![\d.]*\d)", source))


def minutes(at: dt.time) -> float:
    return at.hour * 60 + at.minute
