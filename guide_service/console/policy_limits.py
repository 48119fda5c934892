"""The limits that verdicts hang on, and the days to the next check: shown, filled in, read."""

from __future__ import annotations

from dataclasses import fields as fields_of
from dataclasses import replace
from typing import Any

from guide_service.console.catalogue import N_, gettext
from guide_service.console.policy_form import Form, bounds
from guide_service.console.policy_lines import Line, Strictness
from guide_service.county import County
from guide_service.county_decided import Rules
from guide_service.county_rules import Limits
from guide_service.drying.policy import CheckWindow, Policy

LIMITS = {
    "dry_below_mc": N_("A point reads dry below, in percent of moisture content"),
    "harm_mc": N_("Mold limit of a closed cavity, in percent of moisture content"),
    "wet_above_mc": N_("A point is wet above, in percent of moisture content"),
    "rounds": N_("Rounds of passing readings before a wall is called ready"),
    "days_between_rounds": N_("Days between those rounds"),
    "reading_max_age_days": N_("Days after which a reading carries no ready"),
    "points_per_place": N_("Wood points read in a place"),
    "confidence": N_("Probability that the wettest point is below the limit"),
    "species_offset_mc": N_("Added to every pin reading, in percent of moisture content"),
    "stall_checks": N_("A stall: so many checks"),
    "stall_days": N_("A stall: over so many days"),
}
WINDOWS = {
    "wet": N_("Next check when wet"),
    "caution": N_("Next check at caution"),
    "dry": N_("Next check when dry"),
}
DAYS = N_("%(earliest)s to %(latest)s days")
RISING = N_("Dry, mold limit and wet must rise in this order.")
LATER = N_("The latest day is not before the earliest.")
LONGEST_WINDOW = 60
_PLACES = {"confidence": 3}
_SMALLER_IS_LAXER = {"rounds", "days_between_rounds", "points_per_place", "confidence", "species_offset_mc"}
_WHOLE = {name for name in LIMITS if Limits.model_fields[name].annotation is int}


def lines(rules: Rules, _county: County) -> list[Line]:
    policy = rules.policy
    shown = [
        Line(name, gettext(label), f"{getattr(policy, name):g}", policy.sources.get(name, ""))
        for name, label in LIMITS.items()
    ]
    for band, label in WINDOWS.items():
        window = policy.next_check_days[band]
        days = gettext(DAYS) % {"earliest": window.earliest, "latest": window.latest}
        shown.append(Line(f"{band}_days", gettext(label), days, policy.sources.get("next_check_days", "")))
    return shown


def fields(rules: Rules, _county: County) -> dict[str, str]:
    policy = rules.policy
    values = {name: f"{getattr(policy, name):g}" for name in LIMITS}
    for band in WINDOWS:
        window = policy.next_check_days[band]
        values |= {f"{band}_from": str(window.earliest), f"{band}_to": str(window.latest)}
    return values | {f"source_{name}": policy.sources.get(name, "") for name in (*LIMITS, "next_check_days")}


def read(form: Form, before: Rules, _county: County) -> Rules:
    values: dict[str, Any] = {name: _limit(form, name) for name in LIMITS}
    if not values["dry_below_mc"] <= values["harm_mc"] <= values["wet_above_mc"]:
        form.refuse("harm_mc", RISING)
    windows = {band: _window(form, band) for band in WINDOWS}
    own = {name: form.source(f"source_{name}") for name in (*LIMITS, "next_check_days")}
    kept = {name: text for name, text in before.policy.sources.items() if name not in own}
    sources = kept | {name: text for name, text in own.items() if text}
    policy = replace(before.policy, **values, next_check_days=windows, sources=sources)
    _check_sources(form, before.policy, policy)
    return replace(before, policy=policy)


def _limit(form: Form, name: str) -> float | int:
    least, most = bounds(Limits.model_fields[name])
    if name in _WHOLE:
        return form.whole(name, int(least), int(most))
    return form.number(name, least, most, _PLACES.get(name, 1))


def _window(form: Form, band: str) -> CheckWindow:
    earliest = form.whole(f"{band}_from", 1, LONGEST_WINDOW)
    latest = form.whole(f"{band}_to", 1, LONGEST_WINDOW)
    if earliest > latest:
        form.refuse(f"{band}_to", LATER)
    return CheckWindow(earliest, latest)


def _check_sources(form: Form, before: Policy, after: Policy) -> None:
    """A value that changed rests on something, and not on a source that gives the old value."""
    for name in LIMITS:
        old, source = f"{getattr(before, name):g}", after.sources.get(name, "")
        if getattr(before, name) != getattr(after, name):
            form.rests_on(name, source, old=old if source == before.sources.get(name) else "")
    if before.next_check_days != after.next_check_days:
        form.rests_on("next_check_days", after.sources.get("next_check_days", ""))


def _measure(name: str) -> Strictness:
    return Strictness(lambda rules: (float(getattr(rules.policy, name)),), -1 if name in _SMALLER_IS_LAXER else 1)


def _days(band: str) -> Strictness:
    def measure(rules: Rules) -> tuple[float, ...]:
        window = rules.policy.next_check_days[band]
        return float(window.earliest), float(window.latest)

    return Strictness(measure, 1)


STRICTNESS = {name: _measure(name) for name in LIMITS} | {f"{band}_days": _days(band) for band in WINDOWS}
assert set(LIMITS) <= {each.name for each in fields_of(Policy)}
