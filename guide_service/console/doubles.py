"""Files that may be of the same house: of one phone, or at one address."""

from __future__ import annotations

from sqlalchemy import ColumnElement, func, or_
from sqlmodel import Session, col, select

from guide_service.carrier.phone_numbers import normalise
from guide_service.console.catalogue import gettext
from guide_service.console.pages import area_name
from guide_service.console.scope import in_scope
from guide_service.console.sign_in import SignedIn
from guide_service.records import Contact, Household, Membership
from guide_service.wiring import Service

MOST = 10


def doubles_of(session: Session, service: Service, who: SignedIn, home: Household, number: str) -> list[Household]:
    """Within the agent's areas; the number is found through its keyed hash."""
    typed = normalise(number) if number else None
    keys = service.sealer.phone_keys(typed) if typed else []
    of_phone = (
        select(Membership.household_id)
        .join(Contact, col(Contact.id) == col(Membership.contact_id))
        .where(col(Contact.phone_key).in_(keys))
    )
    same: list[ColumnElement[bool]] = [col(Household.id).in_(of_phone)]
    if home.address:
        same.append(func.lower(Household.address) == home.address.lower())
    query = select(Household).where(in_scope(who.agent, service.county), Household.id != home.id, or_(*same))
    return list(session.exec(query.order_by(col(Household.created_at)).limit(MOST)))


def called(service: Service, home: Household) -> str:
    address = home.address or gettext("no address")
    return f"{address}, {area_name(service, home.area)}"
