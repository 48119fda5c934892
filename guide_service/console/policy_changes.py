"""A change of the policy as a form: read, checked by the county file's own rules, laid beside the one before."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

from pydantic import ValidationError
from starlette.datastructures import FormData

from guide_service.console.access import field
from guide_service.console.catalogue import N_
from guide_service.county import Limits
from guide_service.drying.policy import Policy

LIMITS = {
    "dry_below_mc": N_("A point reads dry below, in percent of moisture content"),
    "harm_mc": N_("Mould limit of a closed cavity, in percent of moisture content"),
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
    "wet": N_("Next check when wet, earliest and latest day"),
    "caution": N_("Next check at caution, earliest and latest day"),
    "dry": N_("Next check when dry, earliest and latest day"),
}
SOURCED = (*LIMITS, "next_check_days")


def filled_policy(form: FormData, before: Policy) -> Policy:
    """The next version; ``ValueError`` with the field when the county file's own rules refuse it."""
    values: dict[str, Any] = {name: field(form, name) for name in LIMITS}
    values["next_check_days"] = {band: (field(form, f"{band}_from"), field(form, f"{band}_to")) for band in WINDOWS}
    values["sources"] = {name: text for name in SOURCED if (text := field(form, f"source_{name}")[:200])}
    try:
        limits = Limits.model_validate(values)
    except ValidationError as problem:
        error = problem.errors()[0]
        where = ".".join(str(part) for part in error["loc"])
        raise ValueError(f"{where}: {error['msg'].removeprefix('Value error, ')}".removeprefix(": ")) from None
    return replace(limits.applied_to(before), version=before.version + 1)


def differences(old: dict[str, Any], new: dict[str, Any]) -> list[tuple[str, str, str]]:
    """(name, old, new) of every value and source that is not the same."""
    before, after = _flat(old), _flat(new)
    return [
        (name, before.get(name, ""), after.get(name, ""))
        for name in sorted(before.keys() | after.keys())
        if before.get(name, "") != after.get(name, "") and name != "version"
    ]


def changed(old: Policy, new: Policy) -> bool:
    return bool(differences(asdict(old), asdict(new)))


def _flat(values: dict[str, Any]) -> dict[str, str]:
    flat: dict[str, str] = {}
    for name, value in values.items():
        if isinstance(value, dict):
            flat |= {f"{name}.{inner}": text for inner, text in _flat(value).items()}
        else:
            flat[name] = f"{value:g}" if isinstance(value, float) else str(value)
    return flat
