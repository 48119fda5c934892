"""Larkwater's people for the tests: contacts, households and texts, written straight into the records."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlmodel import select

from guide_service.carrier.recording import RecordingSender
from guide_service.database import writing
from guide_service.followup.worker import Worker
from guide_service.outbox import start_text
from guide_service.records import Contact, Conversation, Escalation, Household, Job, Membership, Message
from guide_service.wiring import Service
from guide_service.wording.sms import SmsText

NUMBER = "+12025550123"
OTHER_NUMBER = "+12025550124"


def add_person(
    service: Service, number: str = NUMBER, area: str | None = "millrace", **contact: Any
) -> tuple[int, int]:
    """Ids of a contact and its household."""
    sealed, key_id = service.sealer.seal(number)
    now = service.clock.now()
    with writing(service.engine) as session:
        person = Contact(phone_key=service.sealer.phone_key(number), phone_sealed=sealed, key_id=key_id,
                         last_digits=number[-4:], consented_at=now, created_at=now, **contact)  # fmt: skip
        household = Household(area=area, created_at=now, updated_at=now)
        session.add_all([person, household])
        session.flush()
        session.add(Membership(contact_id=person.id, household_id=household.id, role="owner", joined_at=now))
        talk = Conversation(contact_id=person.id, household_id=household.id, state="home.rest", updated_at=now)
        session.add(talk)
    return person.id, household.id


def sms(body: str = "Time to check your walls.", segments: int = 1) -> SmsText:
    return SmsText(body, "GSM-7", segments, ("test.reminder",))


def start(service: Service, contact_id: int, household_id: int | None, *texts: SmsText, **how: Any) -> list[Message]:
    how = {"origin": "started", "send_at": None, "key": None} | how
    with writing(service.engine) as session:
        contact = session.get_one(Contact, contact_id)
        return start_text(session, service, contact=contact, household_id=household_id, texts=texts or [sms()], **how)


def work(service: Service, name: str = "w1", at_most: int = 50) -> int:
    """Does all that is due, as a worker would; how many jobs there were."""
    worker = Worker(service, name, _NoPause())
    done = 0
    while done < at_most and worker.work_once():
        done += 1
    return done


class _NoPause:
    """In place of the event that stops a worker: nothing waits in a test."""

    def wait(self, _seconds: float) -> bool:
        return False

    def is_set(self) -> bool:
        return False


def rows(service: Service, table: type, *where: Any) -> list[Any]:
    with writing(service.engine) as session:
        return list(session.exec(select(table).where(*where).order_by(table.id)))


def row(service: Service, table: type, row_id: int) -> Any:
    with writing(service.engine) as session:
        return session.get_one(table, row_id)


def change(service: Service, table: type, row_id: int, **values: Any) -> None:
    with writing(service.engine) as session:
        found = session.get_one(table, row_id)
        for name, value in values.items():
            setattr(found, name, value)


def live_jobs(service: Service) -> list[Job]:
    return [job for job in rows(service, Job) if job.state in ("ready", "running")]


def bodies(sender: RecordingSender) -> list[str]:
    return [text.body for text in sender.sent]


def escalations(service: Service) -> list[Escalation]:
    return rows(service, Escalation)


def local(service: Service, *when: int) -> dt.datetime:
    """An instant by the clocks of Larkwater County."""
    return dt.datetime(*when, tzinfo=service.county.zone(None)).astimezone(dt.UTC)
