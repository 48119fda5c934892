"""Takes a household's file out of the records: all of it, or all but the readings and verdicts.

What stays in any case: the keyed hash of a number that said STOP and the ledger of consent under it, tombstones of the
carrier's ids (a replayed webhook recreates nothing), the audit (ids and counts only), the decision itself. What stays
where the county keeps the readings: walls by their letter, places, checks, readings as understood, verdicts with
policy version, answers, mould reports without words; the area. No number, name, address, text or typed word.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from sqlalchemy import delete, update
from sqlmodel import Session, col, select

from guide_service import jobs, outbox
from guide_service.followup.burying import bury_messages
from guide_service.followup.erasing import erase_texts
from guide_service.followup.escalations import alarm_key
from guide_service.records import (
    Call,
    Check,
    Contact,
    Conversation,
    DryingLog,
    Escalation,
    Household,
    HouseholdNote,
    Loan,
    LogVisit,
    Membership,
    Message,
    MouldReport,
    PlaceRow,
    ReadingRow,
    ReadyAnswer,
    RecallHouse,
    RoundHouse,
    Verdict,
    WallRow,
)
from guide_service.wiring import Service

JOBS = ("check", "nudge", "look_back", "confirm", "deletion")
_PERSONAL: tuple[Any, ...] = (Call, HouseholdNote, Loan, RoundHouse, Conversation, Membership)
_MEASURED: tuple[Any, ...] = (ReadyAnswer, Verdict, ReadingRow, Check, PlaceRow, WallRow, MouldReport)
"""In an order that keys allow."""
DELETED = "deleted"
"""Kind of a contact of which nothing is left but its row."""


def remove_file(session: Session, service: Service, home: Household, *, keep_readings: bool) -> dict[str, int]:
    """How many rows of what are gone. The caller holds the household's row."""
    gone: Counter[str] = Counter()
    ids = [home.id, *session.exec(select(Household.id).where(Household.merged_into == home.id)).all()]
    _end_jobs(session, ids)
    contacts = session.exec(select(Contact).join(Membership, col(Membership.contact_id) == col(Contact.id)).where(
        col(Membership.household_id).in_(ids)).distinct()).all()  # fmt: skip
    _messages(session, service, gone, ids)
    _logs(session, gone, ids)
    for table in _PERSONAL:
        _delete(session, gone, table, ids)
    _delete(session, gone, Escalation, ids)
    _reset_recalls(session, ids)
    if keep_readings:
        _strip_measured(session, service, home)
    stubs = [] if keep_readings else _stubs_of(session, ids)
    for table in _MEASURED:
        _delete(session, gone, table, ids[1:] if keep_readings else ids)
    _delete_rows(session, gone, Contact, col(Contact.id).in_(stubs))
    _forget(session, service, gone, contacts, keep_readings)
    _delete_rows(session, gone, Household, col(Household.id).in_(ids[1:] if keep_readings else ids))
    session.flush()
    return dict(gone)


def _end_jobs(session: Session, ids: Sequence[int]) -> None:
    jobs.cancel(session, *(f"{kind}:{household}" for household in ids for kind in JOBS))
    outbox.cancel_texts(session, *(f"started:{household}" for household in ids))
    open_ones = session.exec(select(Escalation.id).where(col(Escalation.household_id).in_(ids))).all()
    jobs.cancel(session, *(alarm_key(each) for each in open_ones))
    recalls = session.exec(select(RecallHouse).where(col(RecallHouse.household_id).in_(ids))).all()
    jobs.cancel(session, *(f"recall:{row.recall_id}:{row.household_id}" for row in recalls))


def _messages(session: Session, service: Service, gone: Counter[str], ids: Sequence[int]) -> None:
    """With the jobs that would still send them."""
    mine = col(Message.household_id).in_(ids)
    waiting = session.exec(select(Message.id).where(mine, Message.direction == "out", Message.status == "waiting"))
    outbox.take_back(session, waiting.all())
    rows = session.exec(select(Message).where(mine)).all()
    erase_texts(session, service, rows)
    bury_messages(session, service, rows)
    gone["message"] += len(rows)


def _logs(session: Session, gone: Counter[str], ids: Sequence[int]) -> None:
    logs = session.exec(select(DryingLog.id).where(col(DryingLog.household_id).in_(ids))).all()
    _delete_rows(session, Counter(), LogVisit, col(LogVisit.log_id).in_(logs))
    _delete(session, gone, DryingLog, ids)


def _delete(session: Session, gone: Counter[str], table: Any, ids: Sequence[int]) -> None:
    _delete_rows(session, gone, table, col(table.household_id).in_(ids))


def _delete_rows(session: Session, gone: Counter[str], table: Any, which: Any) -> None:
    session.flush()
    removed = session.connection().execute(delete(table).where(which)).rowcount
    if removed:
        gone[table.__tablename__] += removed


def _reset_recalls(session: Session, ids: Sequence[int]) -> None:
    """A recall remembers how many it concerned, not what their rooms are called."""
    mine = col(RecallHouse.household_id).in_(ids)
    session.connection().execute(update(RecallHouse).where(mine).values(walls=[]))


def _strip_measured(session: Session, service: Service, home: Household) -> None:
    """Of what stays: no words of theirs, no phone."""
    connection, here = session.connection(), home.id

    def change(table: Any, *which: Any, **values: Any) -> None:
        connection.execute(update(table).where(col(table.household_id) == here, *which).values(**values))

    change(ReadingRow, typed="", contact_id=None, message_id=None)
    change(Verdict, message_id=None)
    change(ReadyAnswer, message_id=None)
    change(MouldReport, words="", lifted_why="", message_id=None)
    change(WallRow, name=WallRow.letter)
    lent = [meter.number for meter in service.county.lent_meters]
    change(Check, col(Check.meter).not_in(lent), meter=None)
    now = service.clock.now()
    home.address, home.facts, home.language = None, {}, None
    home.code_key, home.code_sealed, home.code_key_id, home.code_told_at = None, None, None, None
    home.next_check_on, home.unanswered, home.deleted_at, home.updated_at = None, 0, now, now
    session.add(home)
    session.flush()


def _forget(
    session: Session, service: Service, gone: Counter[str], contacts: Sequence[Contact], keep_readings: bool
) -> None:
    for contact in contacts:
        session.refresh(contact)
        elsewhere = select(Membership.ended_at).where(Membership.contact_id == contact.id)
        others = session.exec(elsewhere).all()
        if any(ended is None for ended in others):
            if contact.speaks_of is not None:
                contact.speaks_of = None
                session.add(contact)
            continue
        gone["contact"] += 1
        _delete_rows(session, gone, Call, col(Call.contact_id) == contact.id)
        _other_messages(session, service, contact.id)
        stubbed = keep_readings or contact.opted_out_at is not None or bool(others)
        _stub(session, contact) if stubbed else session.delete(contact)
    session.flush()


def _other_messages(session: Session, service: Service, contact_id: int) -> None:
    """Texts that stood in no file, or in one that this phone had left."""
    outbox.cancel_texts_to(session, contact_id)
    rows = session.exec(select(Message).where(Message.contact_id == contact_id)).all()
    erase_texts(session, service, rows)
    bury_messages(session, service, rows)


def _stub(session: Session, contact: Contact) -> None:
    """The row stays for the checks that point to it, or because of a STOP: then its keyed hash stays too."""
    if contact.opted_out_at is None:
        contact.phone_key, contact.kind = f"{DELETED}:{contact.id}", DELETED
    contact.phone_sealed, contact.key_id, contact.last_digits = b"", "", ""
    contact.consented_at = contact.last_heard_at = contact.returned_at = contact.speaks_of = None
    contact.undeliverable, contact.code_tries, contact.code_tried_on = None, 0, None
    session.add(contact)


def _stubs_of(session: Session, ids: Sequence[int]) -> list[int]:
    """Rows that stayed for the sake of checks that go now."""
    here = select(Check.contact_id).where(col(Check.household_id).in_(ids))
    return list(session.exec(select(Contact.id).where(Contact.kind == DELETED, col(Contact.id).in_(here))))
