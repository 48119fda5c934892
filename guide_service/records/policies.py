"""Policy as versioned rows: the county file seeds the first, every change is a row of its own with its reason."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, fields
from typing import Any

from sqlalchemy import Connection, func
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, col, select

from guide_service.drying.policy import CheckWindow, Policy
from guide_service.records.county_rows import PolicyRow
from guide_service.records.prepared import Prepared

_policy: Any = PolicyRow.__table__  # type: ignore[attr-defined]
NEWEST = select(func.max(_policy.c.version)).scalar_subquery()
"""Number of the version in force, as a column of whatever else is looked up; NULL before the first was seeded."""
_NEWEST = Prepared(select(NEWEST.label("version")))
_SEED = {
    "sqlite": sqlite.insert(_policy).on_conflict_do_nothing(),
    "postgresql": postgresql.insert(_policy).on_conflict_do_nothing(),
}


def newest_version(connection: Connection) -> int | None:
    found: int | None = _NEWEST.first(connection, {}).version
    return found


def row_in_force(session: Session) -> PolicyRow | None:
    """None before the first version was seeded."""
    return session.exec(select(PolicyRow).order_by(col(PolicyRow.version).desc()).limit(1)).first()


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


def add_version(session: Session, row: PolicyRow) -> None:
    """Versions are unique: of two at one instant one has it, the other meets ``IntegrityError``."""
    session.add(row)
    session.flush()


def row_of(policy: Policy, county: dict[str, Any], reason: str, now: dt.datetime, **more: Any) -> PolicyRow:
    return PolicyRow(version=policy.version, values=asdict(policy), county=county, reason=reason, made_at=now, **more)


def seed_policy(session: Session, first: PolicyRow) -> None:
    """The first version, if there is none yet; two processes that start at once both may."""
    connection = session.connection()
    if newest_version(connection) is None:
        connection.execute(_SEED[connection.dialect.name], first.model_dump())
