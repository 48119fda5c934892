"""Signing translations, and listing what is open."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from guide_service.wording.catalogue import (
    Forms,
    Sourced,
    as_forms,
    catalogue_path,
    is_outdated,
    read_catalogue,
    sourced,
    unusable,
)
from guide_service.wording.catalogue_files import merged
from guide_service.wording.messages import load_messages
from guide_service.wording.reviews import A_ROLE, Signed, is_role, read_reviews, write_reviews

CHANGED, UNSIGNED, SIGNED, LACKING = "changed", "unsigned", "signed", "lacking"


class NotSigned(ValueError):
    """What cannot be signed, and why."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Where one text of a language stands in its review."""

    entry: Sourced
    forms: Forms
    state: str
    """``signed``, ``unsigned``, ``changed`` (its English text is newer) or ``lacking``."""

    @property
    def safety(self) -> bool:
        return self.entry.message.critical


def standings(flows_dir: Path, locales_dir: Path, language: str) -> tuple[Standing, ...]:
    """Every text of a language with its state, safety texts first."""
    entries = sourced(load_messages(flows_dir).values())
    path = catalogue_path(locales_dir, language)
    by_context = {e.context: e for e in read_catalogue(path) if e.context} if path.is_file() else {}
    reviews = read_reviews(locales_dir, language)
    found = []
    for entry in entries:
        translation = by_context.get(entry.context)
        forms = as_forms(translation.string) if translation is not None else ()
        if translation is None or not any(forms):
            state = LACKING
        elif translation.fuzzy and is_outdated(translation):
            state = CHANGED
        elif unusable(translation, entry, language):
            state = LACKING
        else:
            state = SIGNED if reviews.of(entry.forms, forms) else UNSIGNED
        found.append(Standing(entry, forms, state))
    return tuple(sorted(found, key=lambda one: not one.safety))


def unsigned_safety(flows_dir: Path, locales_dir: Path, language: str) -> tuple[str, ...]:
    """Safety texts that nobody has signed as they are said now."""
    found = standings(flows_dir, locales_dir, language)
    return tuple(one.entry.context for one in found if one.safety and one.state != SIGNED)


def sign(
    flows_dir: Path, locales_dir: Path, language: str, ids: Iterable[str], role: str, on: dt.date
) -> tuple[str, ...]:
    """Sign the translations of ``ids`` as they stand; an id ending in ``.`` signs all that begin with it.

    Raises ``NotSigned`` for an id without a translation that is in order, and for an empty role.
    """
    if not is_role(role):
        raise NotSigned(A_ROLE)
    by_id = {one.entry.context: one for one in standings(flows_dir, locales_dir, language)}
    chosen = [one for wanted in ids for one in _chosen(wanted, by_id)]
    signed = [Signed(one.entry.context, one.entry.forms, one.forms, role.strip(), on) for one in chosen]
    write_reviews(locales_dir, language, read_reviews(locales_dir, language).with_signed(signed))
    rewrite(flows_dir, locales_dir, language)
    return tuple(one.id for one in signed)


def _chosen(wanted: str, by_id: Mapping[str, Standing]) -> Sequence[Standing]:
    all_of = wanted if wanted.endswith(".") else None
    found = [one for id_, one in by_id.items() if id_ == wanted or (all_of and id_.startswith(all_of))]
    if not found:
        raise NotSigned(f"{wanted}: no such text")
    for one in found:
        if one.state in (LACKING, CHANGED):
            raise NotSigned(f"{one.entry.context}: {one.state}: translate it again first and take the fuzzy mark away")
    return found


def rewrite(flows_dir: Path, locales_dir: Path, language: str) -> None:
    """The catalogue again, its comments telling the new state."""
    path = catalogue_path(locales_dir, language)
    entries = sourced(load_messages(flows_dir).values())
    path.write_bytes(
        merged(entries, read_catalogue(path), language, flows_dir.name, read_reviews(locales_dir, language))
    )
