"""Policy as versioned rows: the county file seeds the first, every change is a row of its own with its reason."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, fields

from sqlmodel import Session, col, select

from guide_service.drying.policy import CheckWindow, Policy
from guide_service.records.county_rows import PolicyRow


def policy_in_force(session: Session) -> Policy | None:
    """The newest version, None before the first was seeded."""
    row = session.exec(select(PolicyRow).order_by(col(PolicyRow.version).desc()).limit(1)).first()
    return as_policy(row) if row else None


def as_policy(row: PolicyRow) -> Policy:
    """A stored version; fields that are younger than the row have their defaults."""
    known = {field.name for field in fields(Policy)}
    values = {name: value for name, value in row.values.items() if name in known}
    windows = {band: CheckWindow(**days) for band, days in values.pop("next_check_days", {}).items()}
    values.pop("version", None)
    if windows:
        values["next_check_days"] = windows
    return Policy(version=row.version, **values)


def all_versions(session: Session) -> list[PolicyRow]:
    """Newest first."""
    return list(session.exec(select(PolicyRow).order_by(col(PolicyRow.version).desc())))


def add_version(session: Session, policy: Policy, reason: str, made_by: int, now: dt.datetime) -> None:
    session.add(PolicyRow(version=policy.version, values=asdict(policy), reason=reason, made_by=made_by, made_at=now))


def seed_policy(session: Session, first: Policy, now: dt.datetime) -> None:
    """The first version, if there is none yet."""
    if policy_in_force(session) is None:
        session.add(PolicyRow(version=first.version, values=asdict(first), reason="county file", made_at=now))
