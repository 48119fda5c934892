"""The policy versions that a log's verdicts rest on, each limit with its source: old verdicts keep their version."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection

from sqlmodel import Session, col, select

from guide_service.console.catalogue import N_, gettext
from guide_service.console.figures import measured
from guide_service.console.log_values import LogPolicy
from guide_service.drying.policy import Policy
from guide_service.records import PolicyRow
from guide_service.records.policies import as_policy
from guide_service.wiring import Service

LIMITS = {
    "dry_below_mc": N_("Dry below, % MC"),
    "wet_above_mc": N_("Wet above, % MC"),
    "harm_mc": N_("Mold limit of a closed cavity, % MC"),
    "rounds": N_("Rounds of passing readings"),
    "days_between_rounds": N_("Days between rounds"),
    "reading_max_age_days": N_("Oldest reading that carries an answer, days"),
    "points_per_place": N_("Wood points in a bay"),
    "confidence": N_("Probability that the wettest point is below the limit"),
    "species_offset_mc": N_("Added to every pin reading, % MC"),
}


def policies_of(
    session: Session, service: Service, versions: Collection[int], at: Callable[[dt.datetime], str]
) -> tuple[LogPolicy, ...]:
    """Those in ``versions``; before the first verdict, the one in force."""
    wanted = set(versions) or {service.policy().version}
    rows = session.exec(select(PolicyRow).where(col(PolicyRow.version).in_(wanted)).order_by(col(PolicyRow.version)))
    stored = {row.version: row for row in rows}
    first = service.county.first_policy()
    found = []
    for version in sorted(wanted):
        row = stored.get(version)
        policy = as_policy(row) if row else first
        since, why = (at(row.made_at), row.reason) if row else ("", gettext("county file"))
        found.append(LogPolicy(version, since, why, _limits(policy)))
    return tuple(found)


def _limits(policy: Policy) -> tuple[tuple[str, str, str], ...]:
    return tuple(
        (gettext(name), measured(getattr(policy, field)), policy.sources.get(field, ""))
        for field, name in LIMITS.items()
    )
