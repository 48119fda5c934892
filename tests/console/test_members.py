"""Who joined by code is listed and can be ended by an agent; so can the code; a request to delete shows the rule."""

from __future__ import annotations

from collections.abc import Callable

from sqlmodel import select

from guide_service.database import reading, writing
from guide_service.records import Audit, Contact, Household, Membership
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import make_escalation, one_household

Seat = Callable[[str], Desk]


def joined(service: Service, home: int) -> int:
    """Id of the contact of another phone, now a member of this household by code."""
    other, _ = one_household(service, "+12025550124", "fenn_landing")
    contact_id = members(service, other)[0]
    with writing(service.engine) as session:
        membership = Membership(
            contact_id=contact_id, household_id=home, role="contractor", by_code=True, joined_at=service.clock.now()
        )
        session.add(membership)
        house = session.get_one(Household, home)
        house.code_key, house.code_key_id = service.sealer.code_keys("482919")[0], service.sealer.key_id
        house.code_sealed = service.sealer.seal("482919")[0]
        session.add(house)
    return contact_id


def members(service: Service, home: int) -> list[int]:
    with reading(service.engine) as session:
        rows = session.exec(select(Membership).where(Membership.household_id == home)).all()
    return [row.contact_id for row in rows if row.ended_at is None]


def test_who_joined_by_code_is_listed_and_ended(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    (began,) = members(service, home)
    contact = joined(service, home)
    seat = desk("rivera")
    page = seat.see(f"/console/households/{home}")
    assert "joined by code" in page
    assert page.count("/end-membership") == 1
    with reading(service.engine) as session:
        version = session.get_one(Household, home).version
    seat.do(f"/console/households/{home}/end-membership", contact=str(contact))
    assert members(service, home) == [began]
    with reading(service.engine) as session:
        assert session.get_one(Household, home).version == version + 1
        assert "end_membership" in session.exec(select(Audit.action)).all()
    assert "joined by code" not in seat.see(f"/console/households/{home}")


def test_the_phone_that_began_a_household_is_not_ended(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    (began,) = members(service, home)
    seat = desk("rivera")
    seat.do(f"/console/households/{home}/end-membership", 409, contact=str(began))
    assert members(service, home) == [began]


def test_a_code_is_ended(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    joined(service, home)
    seat = desk("rivera")
    assert "End the code" in seat.see(f"/console/households/{home}")
    seat.do(f"/console/households/{home}/revoke-code")
    with reading(service.engine) as session:
        house = session.get_one(Household, home)
    assert (house.code_key, house.code_sealed, house.code_key_id, house.code_told_at) == (None, None, None, None)
    assert "End the code" not in seat.see(f"/console/households/{home}")


def test_a_request_to_delete_shows_the_countys_rule(service: Service, desk: Seat) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        house, contact = session.get_one(Household, home), session.get_one(Contact, members(service, home)[0])
        escalation = make_escalation(session, service, house, contact, reason="deletion")
        escalation.detail = {"rule": "Readings are kept for three years.", "source": "schedule, item 14"}
        session.add(escalation)
    page = desk("rivera").see(f"/console/households/{home}")
    assert "Asks to be deleted" in page
    assert "Readings are kept for three years." in page
