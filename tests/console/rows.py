"""Rows for the tests of the agents' pages: a household with everything that its page can show."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import uuid4

from sqlmodel import Session

from guide_service.accounts import save_account
from guide_service.carrier.form import InboundText
from guide_service.console.roles import Role
from guide_service.database import writing
from guide_service.records import (
    Check,
    Contact,
    Conversation,
    Escalation,
    Household,
    Membership,
    Message,
    MouldReport,
    PlaceRow,
    ReadingRow,
    Verdict,
    WallRow,
)
from guide_service.turn import take_turn
from guide_service.wiring import Service

PASSWORD = "a river of nine letters"


def make_agent(
    service: Service,
    login: str,
    office: str | None = "millrace",
    *,
    coordinator: bool = False,
    role: Role = Role.AGENT,
) -> None:
    offices = tuple(each.id for each in service.county.offices)
    role = Role.COORDINATOR if coordinator else role
    save_account(service.engine, offices, login, login.title(), PASSWORD, office, role)


def make_contact(session: Session, service: Service, number: str, **values: Any) -> Contact:
    sealed, key_id = service.sealer.seal(number)
    now = service.clock.now()
    contact = Contact(
        phone_key=service.sealer.phone_key(number),
        phone_sealed=sealed,
        key_id=key_id,
        last_digits=number[-4:],
        created_at=now,
        last_heard_at=now,
        consented_at=now,
        **values,
    )
    session.add(contact)
    session.flush()
    return contact


def make_household(
    session: Session, service: Service, number: str = "+12025550123", area: str | None = "millrace", **values: Any
) -> tuple[Household, Contact, Conversation]:
    now = service.clock.now()
    home = Household(area=area, created_at=now, updated_at=now, **values)
    contact = make_contact(session, service, number)
    session.add(home)
    session.flush()
    session.add(Membership(contact_id=contact.id, household_id=home.id, role="owner", joined_at=now))
    conversation = Conversation(contact_id=contact.id, household_id=home.id, state="home.rest", updated_at=now)
    session.add(conversation)
    session.flush()
    return home, contact, conversation


def make_escalation(session: Session, service: Service, home: Household, contact: Contact, **values: Any) -> Escalation:
    defaults = {"reason": "person", "urgency": 2, "words": "can someone call me", "opened_at": service.clock.now()}
    row = Escalation(household_id=home.id, contact_id=contact.id, **(defaults | values))
    session.add(row)
    session.flush()
    return row


def make_message(session: Session, service: Service, home: Household, contact: Contact, **values: Any) -> Message:
    defaults = {"direction": "in", "origin": "person", "body": "hello", "at": service.clock.now(), "outcome": "reply"}
    row = Message(household_id=home.id, contact_id=contact.id, **(defaults | values))
    session.add(row)
    session.flush()
    return row


def fill_house(session: Session, service: Service, home: Household, contact: Contact) -> None:
    """A kitchen wall with three bays, read three times; a mould report; a treated plate; third-party readings."""
    now = service.clock.now()
    wall = WallRow(household_id=home.id, letter="K", name="kitchen, north wall", bays=9, created_at=now)
    session.add(wall)
    session.flush()
    for number in (1, 2, 3):
        place = PlaceRow(household_id=home.id, wall_id=wall.id, label=f"K{number}", created_at=now)
        place.treated_plate = number == 3
        session.add(place)
    for days_ago, values in ((12, (31.0, 26.0, 22.0)), (6, (24.0, 20.0, 17.0)), (0, (18.0, 15.0, 12.0))):
        _visit(session, service, home, contact, days_ago, values)
    for label, band in (("K1", "wet"), ("K2", "caution"), ("K3", "dry")):
        session.add(Verdict(household_id=home.id, place=label, band=band, at=now))
    session.add(MouldReport(household_id=home.id, sense="seen", words="black spots behind the sink", reported_at=now))
    home.band, home.wet, home.caution, home.dry, home.mould_open = "wet", 1, 1, 1, True
    home.last_check_on, home.next_check_on = now.date(), now.date() + dt.timedelta(days=5)
    session.add(home)
    session.flush()


def _visit(
    session: Session, service: Service, home: Household, contact: Contact, days_ago: int, values: tuple[float, ...]
) -> None:
    at = service.clock.now() - dt.timedelta(days=days_ago)
    visit = Check(household_id=home.id, contact_id=contact.id, taken_on=at.date(), opened_at=at)
    session.add(visit)
    session.flush()
    for number in (1, 2, 3):
        for point, value in zip(("plate", "low_stud", "mid_stud"), values, strict=True):
            session.add(
                ReadingRow(
                    household_id=home.id,
                    check_id=visit.id,
                    place=f"K{number}",
                    point=point,
                    value=value + number,
                    typed=f"{value + number:g}",
                    taken_on=at.date(),
                    arrived_at=at,
                    confirmed=not (days_ago == 0 and number == 2),
                )
            )


def one_household(service: Service, number: str = "+12025550123", area: str | None = "millrace") -> tuple[int, int]:
    """Ids of a filled household and of its waiting escalation."""
    with writing(service.engine) as session:
        home, contact, _ = make_household(session, service, number, area)
        fill_house(session, service, home, contact)
        message = make_message(session, service, home, contact, body="can someone call me")
        make_message(session, service, home, contact, direction="out", origin="reply", body="We will.", outcome=None)
        escalation = make_escalation(session, service, home, contact, message_id=message.id)
    return home.id, escalation.id


def text_from(service: Service, number: str, body: str) -> None:
    """A text of that phone, through a whole turn."""
    settings = service.settings
    take_turn(service, InboundText(f"SM{uuid4().hex}", settings.account_sid, number, settings.number, body))
