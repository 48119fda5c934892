"""Many households at once, and a notice on its way to them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from guide_service.database import reading, writing
from guide_service.notices import deciding
from guide_service.notices.choice import Choice
from guide_service.notices.preview import preview
from guide_service.notices.progress import progress
from guide_service.records import Contact, Conversation, Household, Membership, Notice
from guide_service.wiring import Service
from tests.conftest import offering
from tests.people import work

EVERYWHERE = Choice(areas=("millrace", "fenn_landing", "upper_larkwater"), area_unknown=True)
AUTHOR, SECOND = 11, 12


def add_homes(
    service: Service, count: int, *, area: str | None = "millrace", first: int = 0, role: str = "owner",
    home: dict[str, Any] | None = None, **contact: Any,
) -> list[int]:  # fmt: skip
    """Ids of new contacts, each with a household. Their numbers are of no range at all: nothing is sent to them."""
    now = service.clock.now()
    found = []
    with writing(service.engine) as session:
        for number in range(first, first + count):
            sealed, key_id = service.sealer.seal(f"+1202555{number:06d}")
            values: dict[str, Any] = {"consented_at": now, "language": "en"} | contact
            person = Contact(phone_key=f"{area}{number}{values['language']}", phone_sealed=sealed, key_id=key_id,
                             last_digits=f"{number % 10_000:04d}", created_at=now, **values)  # fmt: skip
            house = Household(area=area, created_at=now, updated_at=now, **(home or {}))
            session.add_all([person, house])
            session.flush()
            session.add(Membership(contact_id=person.id, household_id=house.id, role=role, joined_at=now))
            session.add(Conversation(contact_id=person.id, household_id=house.id, state="home.rest", updated_at=now))
            found.append(person.id)
    return found


def draft(
    service: Service, choice: Choice = EVERYWHERE, *, own: dict[str, str] | None = None, phrase: str | None = None
) -> int:
    words = own if own is not None or phrase else {"en": "The office is open on Saturday."}
    with writing(service.engine) as session:
        return deciding.write(session, service, AUTHOR, None, "Saturday", choice, phrase, words or {}).id


def decide(service: Service, notice_id: int, decision: Any, by: int = AUTHOR, seen: str | None = None) -> Any:
    with writing(service.engine) as session:
        notice = session.get_one(Notice, notice_id)
        if decision in (deciding.stop, deciding.drop):
            return decision(session, service, by, notice)
        shown = preview(session, service, notice)
        return decision(session, service, by, notice, seen or shown.digest, shown)


def start(service: Service, notice_id: int) -> None:
    decide(service, notice_id, deciding.approve, SECOND)
    assert decide(service, notice_id, deciding.start) is None


def counts(service: Service, notice_id: int) -> dict[str, int]:
    """What is not zero."""
    with reading(service.engine) as session:
        notice = session.get_one(Notice, notice_id)
        found = progress(session, notice, service.county.hours, service.clock.now())
    return {name: count for name, count in found.items() if count}


def stored(service: Service, notice_id: int) -> Notice:
    with reading(service.engine) as session:
        return session.get_one(Notice, notice_id)


def go_on(service: Service, rounds: int = 100, seconds: float = 2) -> None:
    """The worker works, and the clock goes on, as often as that."""
    for _ in range(rounds):
        work(service, at_most=500)
        service.clock.advance(seconds=seconds)


def with_rules(
    service: Service, *, rate: float = 1_000.0, languages: Sequence[str] = ("en", "es"), **rules: Any
) -> Service:
    """A county whose number sends that fast, with these rules for notices."""
    both = offering(service, *languages)
    hours = both.county.hours.model_copy(update={"segments_per_second": rate})
    notices = both.county.notices.model_copy(update=rules)
    return both.with_county(both.county.model_copy(update={"hours": hours, "notices": notices}))


def night(service: Service) -> None:
    """22:30 in Larkwater County."""
    service.clock.at = service.clock.at.replace(hour=2, minute=30) + dt.timedelta(days=1)
