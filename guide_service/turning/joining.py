"""A phone joins a household by its code: the rows, and the residents' other phones are told."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, select, update

from guide_service import jobs, outbox
from guide_service.dialogue import effects_house as house
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.dialogue.saying import Say
from guide_service.followup.escalations import raise_escalation
from guide_service.records import Audit, Contact, Conversation, DeletionDecision, Escalation, Membership
from guide_service.records.loading import Known
from guide_service.records.prepared import change
from guide_service.turning.naming import DELETION_ASKED, DELETION_DUE
from guide_service.wording.sms import compose

if TYPE_CHECKING:
    from guide_service.turning.writer import Writer

THIRD_PARTIES = ("contractor", "volunteer", "helper")
"""They are not told who else joins."""


def _table(model: Any) -> Table:
    table: Table = model.__table__
    return table


_membership, _conversation = _table(Membership), _table(Conversation)


def make_member(
    connection: Connection, contact_id: int, household_id: int, state: str, now: dt.datetime, *, by_code: bool
) -> int:
    """Membership and conversation of this phone with this household, new or come back; id of the conversation."""
    both: dict[str, Any] = {"contact_id": contact_id, "household_id": household_id}
    again = {"ended_at": None, "joined_at": now, "by_code": by_code, "role": "unknown", "proved_at": None}
    if not _changed(connection, _membership, both, again):
        row = Membership(**both, joined_at=now, by_code=by_code)
        connection.execute(_membership.insert().values(row.model_dump()))
    if not _changed(connection, _conversation, both, {"updated_at": now}):
        talk = Conversation(**both, state=state, updated_at=now)
        connection.execute(_conversation.insert().values(talk.model_dump()))
    found = select(_conversation.c.id).where(*(_conversation.c[name] == value for name, value in both.items()))
    return int(connection.execute(found).scalar_one())


def _changed(connection: Connection, table: Table, which: dict[str, Any], values: dict[str, Any]) -> bool:
    changed = update(table).where(*(table.c[name] == value for name, value in which.items())).values(**values)
    return connection.execute(changed).rowcount > 0


def leave_bare_house(connection: Connection, before: Known | None, now: dt.datetime) -> None:
    """A phone that said hello before it joined leaves the household that it got then, if nothing is known of it."""
    if before is None or before.who.membership_id is None:
        return
    who = before.who
    facts = {name for name in who.facts or {} if name != "meter"}  # whose meter it is goes with the phone
    told = (before.places, who.address, facts, before.escalations, who.stage != "unknown")
    if who.houses == 1 and not any(told):
        change(connection, _membership, who.membership_id, {"ended_at": now})


def _join(writer: Writer, _effect: house.JoinHousehold) -> None:
    writer.contact["speaks_of"] = writer.household_id
    writer.session.add(_audit(writer, "join_by_code", contact=str(writer.contact_id)))
    newcomer = writer.session.get_one(Contact, writer.contact_id)
    for contact in other_residents(writer):
        args = {"office": writer.service.county_facts.office_name, "digits": newcomer.last_digits}
        texts = compose([Say("joining.told", args)], contact.language, writer.service.catalogues)
        outbox.start_text(
            writer.session, writer.service, contact=contact, household_id=writer.household_id, texts=texts,
            origin="started", send_at=None, key=None,
        )  # fmt: skip


def other_residents(writer: Writer) -> list[Contact]:
    """Phones of the household that we may write to, without those who only help and the newcomer's own."""
    query = (
        select(Contact)
        .join(Membership, _membership.c.contact_id == _table(Contact).c.id)
        .where(
            _membership.c.household_id == writer.household_id,
            _membership.c.ended_at.is_(None),
            _membership.c.role.not_in(THIRD_PARTIES),
            _membership.c.contact_id != writer.contact_id,
            _table(Contact).c.opted_out_at.is_(None),
            _table(Contact).c.undeliverable.is_(None),
            _table(Contact).c.consented_at.is_not(None),
        )
    )
    return list(writer.session.execute(query).scalars())


def _audit(writer: Writer, action: str, **detail: str) -> Audit:
    return Audit(at=writer.now, agent_id=None, household_id=writer.household_id, action=action, detail=detail)


def _tell_code(writer: Writer, effect: house.TellCode) -> None:
    writer.household["code_told_at"] = writer.now
    if effect.new:
        sealed, key_id = writer.service.sealer.seal(effect.code)
        key = writer.service.sealer.code_keys(effect.code)[0]
        writer.household |= {"code_key": key, "code_sealed": sealed, "code_key_id": key_id}


def _revoke(writer: Writer, effect: house.RevokeCode) -> None:
    writer.household |= no_code()
    if effect.phones:
        end_joined(writer.connection, writer.household_id, writer.now, but=writer.contact_id)
    writer.session.add(_audit(writer, "revoke_code", phones=str(effect.phones)))


def no_code() -> dict[str, Any]:
    return {"code_key": None, "code_sealed": None, "code_key_id": None, "code_told_at": None}


def end_joined(connection: Connection, household_id: int, now: dt.datetime, *, but: int) -> None:
    """Phones that joined by code are no members any more, except the one that says so."""
    theirs = (_membership.c.household_id == household_id, _membership.c.by_code, _membership.c.contact_id != but)
    connection.execute(update(_membership).where(*theirs, _membership.c.ended_at.is_(None)).values(ended_at=now))


def _code_tried(writer: Writer, _effect: house.CodeTried) -> None:
    today = writer.now.astimezone(writer.service.county.zone(writer.area)).date()
    contact = writer.session.get_one(Contact, writer.contact_id)
    tries = contact.code_tries if contact.code_tried_on == today else 0
    writer.contact |= {"code_tries": tries + 1, "code_tried_on": today}


def _proved(writer: Writer, _effect: house.Proved) -> None:
    mine = (_membership.c.contact_id == writer.contact_id) & (_membership.c.household_id == writer.household_id)
    writer.connection.execute(update(_membership).where(mine).values(proved_at=writer.now))


def _speak_of(writer: Writer, effect: house.SpeakOf) -> None:
    writer.contact["speaks_of"] = effect.household


def _ask_deletion(writer: Writer, _effect: house.AskDeletion) -> None:
    writer.facts[DELETION_ASKED] = writer.now.isoformat()
    writer.household["facts"] = writer.facts
    rule = writer.service.county.records
    raise_escalation(
        writer.session,
        writer.service,
        writer.household_id,
        EscalationReason.DELETION,
        Urgency.ROUTINE,
        contact_id=writer.contact_id,
        conversation_id=writer.conversation_id,
        message_id=writer.message_id,
        detail={"rule": rule.rule, "source": rule.source},
        words=writer.words[:300],
    )


def _take_back(writer: Writer, _effect: house.TakeBackDeletion) -> None:
    escalation = _table(Escalation)
    open_ = (
        escalation.c.household_id == writer.household_id,
        escalation.c.reason == str(EscalationReason.DELETION),
        escalation.c.state != "settled",
    )
    settled = {"state": "settled", "settled_at": writer.now, "outcome": "taken_back"}
    writer.connection.execute(update(escalation).where(*open_).values(**settled))
    writer.facts.pop(DELETION_ASKED, None)
    if writer.facts.pop(DELETION_DUE, None):
        _withdraw_decision(writer)
    writer.household["facts"] = writer.facts


def _withdraw_decision(writer: Writer) -> None:
    """The county had granted it: it is not carried out."""
    decision = _table(DeletionDecision)
    waits = (decision.c.household_id == writer.household_id, decision.c.granted, decision.c.carried_out_at.is_(None))
    withdrawn = update(decision).where(*waits, decision.c.withdrawn_at.is_(None)).values(withdrawn_at=writer.now)
    writer.connection.execute(withdrawn)
    jobs.cancel(writer.connection, f"deletion:{writer.household_id}")
    writer.session.add(_audit(writer, "deletion_taken_back"))


APPLY: dict[type, Any] = {
    house.JoinHousehold: _join,
    house.TellCode: _tell_code,
    house.RevokeCode: _revoke,
    house.CodeTried: _code_tried,
    house.Proved: _proved,
    house.SpeakOf: _speak_of,
    house.AskDeletion: _ask_deletion,
    house.TakeBackDeletion: _take_back,
}
