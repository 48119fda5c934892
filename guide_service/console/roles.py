"""Who may do what: the one table of roles. The dependencies of routes (``access``) are made from it."""

from __future__ import annotations

from enum import StrEnum


class Role(StrEnum):
    AGENT = "agent"
    """Answers the households of the areas of one office."""
    COORDINATOR = "coordinator"
    """Sees the whole county; decides on policy, reports, texts to many."""
    VOLUNTEER = "volunteer"
    """Enters readings of a measuring round, for houses assigned to him or her. Nothing else."""
    TRANSLATOR = "translator"
    """Reviews languages. Nothing of any household."""


AGENTS = frozenset({Role.AGENT, Role.COORDINATOR})
COORDINATORS = frozenset({Role.COORDINATOR})
VOLUNTEERS = frozenset({Role.VOLUNTEER})
TRANSLATORS = frozenset({Role.TRANSLATOR, Role.COORDINATOR})
"""Who may look at the translators' desk."""
TRANSLATING = frozenset({Role.TRANSLATOR})
"""Who works at it."""

HAVE_AN_OFFICE = frozenset({Role.AGENT, Role.VOLUNTEER})
"""Their account names one; the others' reach does not end at an area."""

ACCOUNT = "/console/account"
HOMES: dict[str, str] = {
    Role.AGENT: "/console",
    Role.COORDINATOR: "/console",
    Role.VOLUNTEER: "/console/rounds",
    Role.TRANSLATOR: "/console/texts",
}
"""Where each begins after signing in."""


def home_of(role: str) -> str:
    return HOMES.get(role, ACCOUNT)
