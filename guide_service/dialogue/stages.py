"""Where a household stands in the recovery order. Stored, shown to agents, and permanent."""

from __future__ import annotations

from enum import StrEnum

from guide_service.dialogue.context import Context


class Stage(StrEnum):
    """In the order of the work: safe, emptied, torn out, washed, dried, measured, closed."""

    SAFE_ENTRY = "safe_entry"
    UTILITIES = "utilities"
    PAPERS = "papers"
    WATER_OUT = "water_out"
    MUD_OUT = "mud_out"
    THROW_OUT = "throw_out"
    OPEN_WALLS = "open_walls"
    CLEAN = "clean"
    DRY = "dry"
    MEASURE = "measure"
    CLOSE = "close"
    AFTERWARDS = "afterwards"


EARLIER_WORDS = {"measuring": Stage.MEASURE}
"""Stored by an earlier version."""


def told(sheet: Context, name: str) -> object:
    """What the household told of itself, in this turn or before; None if it did not."""
    now = sheet.slots.get("told_now")
    if isinstance(now, dict) and name in now:
        return now[name]
    return sheet.facts.household.get(name)


def role_of(sheet: Context) -> str:
    """Who texts, as told in this turn or before."""
    return str(sheet.slots.get("role", sheet.facts.role))


def stage_of(sheet: Context) -> str | None:
    """The stage as it is now, with what this turn changed."""
    now = sheet.slots.get("told_now")
    stage = now.get("stage") if isinstance(now, dict) else None
    stored = str(stage or sheet.facts.stage)
    return EARLIER_WORDS.get(stored, stored)
