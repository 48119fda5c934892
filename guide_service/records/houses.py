"""Households by their code, and all households of one phone: looked up only when a text asks for it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, bindparam, select

from guide_service.records.household import Household, Membership, PlaceRow, WallRow
from guide_service.records.prepared import Prepared

_household: Any = Household.__table__  # type: ignore[attr-defined]
_membership: Any = Membership.__table__  # type: ignore[attr-defined]
_place: Any = PlaceRow.__table__  # type: ignore[attr-defined]
_wall: Any = WallRow.__table__  # type: ignore[attr-defined]
_BY_CODE = Prepared(
    select(_household.c.id, _household.c.code_told_at).where(_household.c.code_key == bindparam("code_key"))
)
_OF_PHONE = Prepared(
    select(_household.c.id, _household.c.area, _household.c.address, _household.c.code_sealed, _household.c.code_key_id)
    .select_from(_membership.join(_household, _household.c.id == _membership.c.household_id))
    .where(_membership.c.contact_id == bindparam("contact_id"), _membership.c.ended_at.is_(None))
    .order_by(_membership.c.joined_at, _household.c.id)
)
_PLACES_OF_PHONE = Prepared(
    select(_membership.c.household_id, _place.c.label, _wall.c.name)
    .select_from(
        _membership.join(_place, _place.c.household_id == _membership.c.household_id).join(
            _wall, _wall.c.id == _place.c.wall_id
        )
    )
    .where(
        _membership.c.contact_id == bindparam("contact_id"),
        _membership.c.ended_at.is_(None),
        _place.c.removed_at.is_(None),
    )
)


def household_of_code(connection: Connection, code_keys: Sequence[str]) -> Any:
    """Id of the household with this code, and when it was last told; None for no household."""
    found = (_BY_CODE.first(connection, {"code_key": key}) for key in code_keys)
    return next((row for row in found if row is not None), None)


def houses_of(connection: Connection, contact_id: int) -> Sequence[Any]:
    """What names each household of a phone, in the order in which it joined."""
    return _OF_PHONE.rows(connection, {"contact_id": contact_id})


def places_of_houses(connection: Connection, contact_id: int) -> Sequence[Any]:
    """``household_id``, ``label`` and ``name`` of its wall: of every place that is there in any house of a phone."""
    return _PLACES_OF_PHONE.rows(connection, {"contact_id": contact_id})
