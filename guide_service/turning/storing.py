"""Effects carried out on the records, in the turn's transaction. One writer a turn; ids are made here."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any

from sqlalchemy import update
from sqlmodel import col, select

from guide_service import jobs, outbox
from guide_service.dialogue import effects as fx
from guide_service.dialogue.effects import EscalationReason
from guide_service.followup.escalations import alarm_key, raise_escalation
from guide_service.followup.quiet_hours import reminder_time
from guide_service.records import (
    Audit,
    ConsentEvent,
    Contact,
    Escalation,
    Membership,
    MouldReport,
    PlaceRow,
    WallRow,
)
from guide_service.records.base import new_id
from guide_service.records.prepared import change
from guide_service.turning import joining, storing_checks
from guide_service.turning.writer import Writer, table_of

TAKEN_BACK_WITHIN = dt.timedelta(days=1)
"""A report of a smell is a slip of the same talk so long; an older one only an agent lifts. Our choice."""
TAKEN_BACK = "taken back by the household"
STOPPED_KEYS = ("check", "nudge", "look_back")
"""Jobs of a household that end when it opts out or has done its check."""


def apply(writer: Writer, effects: tuple[fx.Effect, ...]) -> None:
    for effect in _merged(effects):
        _WRITERS[type(effect)](writer, effect)
    writer.finish()


def _merged(effects: tuple[fx.Effect, ...]) -> list[fx.Effect]:
    """The last date wins: a check is planned once a turn, however often it was worked out."""
    planned = [effect for effect in effects if isinstance(effect, fx.ScheduleCheck)]
    return [e for e in effects if not isinstance(e, fx.ScheduleCheck)] + planned[-1:]


def _set_contact(writer: Writer, effect: fx.SetContact) -> None:
    if effect.language:
        writer.contact["language"] = writer.household["language"] = writer.language = effect.language
    if effect.consented is not None:
        writer.contact["consented_at"] = writer.now if effect.consented else None
        if effect.consented and writer.reached_by is not None:
            writer.contact["channel"] = writer.reached_by
        writer.consented = effect.consented
        _ledger(writer, "given" if effect.consented else "refused", writer.words)
    if effect.channel is not None:
        writer.contact["channel"] = effect.channel
        if effect.channel != "call":
            outbox.leave_calls(writer.session, writer.contact_id)


def _ledger(writer: Writer, kind: str, words: str) -> None:
    key = writer.session.get(Contact, writer.contact_id)
    if key is not None:
        writer.session.add(
            ConsentEvent(
                phone_key=key.phone_key,
                at=writer.now,
                kind=kind,
                words=words,
                language=writer.language,
                source="call" if writer.reached_by else "sms",
                message_id=writer.message_id,
            )
        )


def _set_role(writer: Writer, effect: fx.SetRole) -> None:
    table = table_of(Membership)
    mine = (table.c.contact_id == writer.contact_id) & (table.c.household_id == writer.household_id)
    writer.connection.execute(update(table).where(mine).values(role=effect.role))


def _set_household(writer: Writer, effect: fx.SetHousehold) -> None:
    if effect.area:
        writer.household["area"] = writer.area = effect.area
    if effect.address:
        writer.household["address"] = effect.address[:120]
    if effect.stage:
        writer.household["stage"] = effect.stage
    if effect.facts:
        writer.facts.update(effect.facts)
        writer.household["facts"] = writer.facts


def _add_wall(writer: Writer, effect: fx.AddWall) -> None:
    writer.walls[effect.letter] = new_id()
    writer.session.add(
        WallRow(
            id=writer.walls[effect.letter],
            household_id=writer.household_id,
            letter=effect.letter,
            name=effect.name[:60],
            bays=effect.bays,
            created_at=writer.now,
        )
    )
    writer.session.flush()
    writer.household["stage"] = "measure"


def _update_wall(writer: Writer, effect: fx.UpdateWall) -> None:
    values: dict[str, Any] = {}
    if effect.name is not None:
        values["name"] = effect.name[:60]
    if effect.bays is not None:
        values["bays"] = effect.bays
    if effect.removed:
        values["removed_at"] = writer.now
    if effect.letter in writer.walls:
        change(writer.connection, table_of(WallRow), writer.walls[effect.letter], values)


def _add_place(writer: Writer, effect: fx.AddPlace) -> None:
    """New, or one that was left out before and comes back under its label."""
    if effect.label in writer.places:
        again = {"removed_at": None, "followed": effect.followed}
        change(writer.connection, table_of(PlaceRow), writer.places[effect.label], again)
        return
    writer.places[effect.label] = new_id()
    writer.session.add(
        PlaceRow(
            id=writer.places[effect.label],
            household_id=writer.household_id,
            wall_id=writer.walls[effect.wall],
            label=effect.label,
            kind=effect.kind,
            followed=effect.followed,
            created_at=writer.now,
        )
    )
    writer.session.flush()


def _update_place(writer: Writer, effect: fx.UpdatePlace) -> None:
    values: dict[str, Any] = {}
    if effect.treated_plate is not None:
        values["treated_plate"] = effect.treated_plate
    if effect.followed is not None:
        values["followed"] = effect.followed
    if effect.removed:
        values["removed_at"] = writer.now
    change(writer.connection, table_of(PlaceRow), writer.places[effect.label], values)


def _schedule(writer: Writer, effect: fx.ScheduleCheck) -> None:
    writer.household["next_check_on"] = effect.on
    if effect.on is None:
        jobs.cancel(writer.connection, f"check:{writer.household_id}", f"nudge:{writer.household_id}")
    if effect.on is None or not writer.consented:
        return
    at = reminder_time(effect.on, writer.service.county.zone(writer.area), writer.service.county.hours, writer.facts)
    key = f"check:{writer.household_id}"
    payload = {"household": writer.household_id}
    jobs.enqueue(writer.connection, "check_due", key=key, payload=payload, run_at=at, now=writer.now)


def _schedule_look_back(writer: Writer, effect: fx.ScheduleLookBack) -> None:
    if effect.instead_of_checks:
        jobs.cancel(writer.connection, f"check:{writer.household_id}", f"nudge:{writer.household_id}")
        writer.household["next_check_on"] = None
    if not writer.consented:
        return
    at = reminder_time(effect.on, writer.service.county.zone(writer.area), writer.service.county.hours, writer.facts)
    key, payload = f"look_back:{writer.household_id}", {"household": writer.household_id}
    jobs.enqueue(writer.connection, "look_back", key=key, payload=payload, run_at=at, now=writer.now)


def _cancel_checks(writer: Writer, _effect: fx.CancelChecks) -> None:
    """Where somebody else of the household still wants to hear of it, only this phone is left alone."""
    if not joining.other_residents(writer):
        jobs.cancel(writer.connection, *(f"{kind}:{writer.household_id}" for kind in STOPPED_KEYS))
    outbox.cancel_texts_to(writer.session, writer.contact_id)


def _escalate(writer: Writer, effect: fx.Escalate) -> None:
    raise_escalation(
        writer.session,
        writer.service,
        writer.household_id,
        effect.reason,
        effect.urgency,
        contact_id=writer.contact_id,
        conversation_id=writer.conversation_id,
        message_id=writer.message_id,
        detail=effect.detail,
        words=writer.words[:300],
        by_an_answer=effect.by_an_answer,
    )


def _report_mould(writer: Writer, effect: fx.ReportMould) -> None:
    writer.household["mould_open"] = True
    writer.session.add(
        MouldReport(
            household_id=writer.household_id,
            message_id=writer.message_id,
            sense=effect.sense,
            words=writer.words[:300],
            reported_at=writer.now,
        )
    )


def _withdraw_mould(writer: Writer, effect: fx.WithdrawMould) -> None:
    """Reports of a smell of this day; the house is free of mould, and nobody has to look, when none is left."""
    open_ones = select(MouldReport).where(
        MouldReport.household_id == writer.household_id, col(MouldReport.lifted_at).is_(None)
    )
    reports = writer.session.exec(open_ones).all()
    if effect.doubt_alone:
        if not reports:
            _nobody_has_to_look(writer, of_a_doubt=True)
        return
    taken_back = [one for one in reports if one.sense == "smelt" and writer.now - one.reported_at <= TAKEN_BACK_WITHIN]
    for report in taken_back:
        report.lifted_at, report.lifted_why = writer.now, TAKEN_BACK
        writer.session.add(report)
    if taken_back and len(taken_back) == len(reports):
        writer.household["mould_open"] = False
        _nobody_has_to_look(writer)


def _nobody_has_to_look(writer: Writer, *, of_a_doubt: bool = False) -> None:
    waiting = select(Escalation).where(
        Escalation.household_id == writer.household_id,
        Escalation.reason == EscalationReason.MOULD.value,
        Escalation.state == "waiting",
    )
    for escalation in writer.session.exec(waiting).all():
        if of_a_doubt and not escalation.detail.get("doubt"):
            continue
        escalation.state, escalation.settled_at, escalation.outcome = "settled", writer.now, "mould_taken_back"
        writer.session.add(escalation)
        jobs.cancel(writer.connection, alarm_key(escalation.id))


def _flooded_again(writer: Writer, effect: fx.FloodedAgain) -> None:
    writer.household |= {"flooded_again_on": effect.on, "ready_walls": 0, "dry_on": None, "dry_by": None}


def _water_taken_back(writer: Writer, effect: fx.NewWaterTakenBack) -> None:
    """The report stays in the history: with its text, its escalation, and who took it back."""
    writer.household["flooded_again_on"] = effect.before
    detail = {"contact": str(writer.contact_id), "reported": effect.on.isoformat()}
    writer.session.add(
        Audit(at=writer.now, household_id=writer.household_id, action="new_water_taken_back", detail=detail)
    )


def _opt_out(writer: Writer, effect: fx.OptOut) -> None:
    writer.contact["opted_out_at"] = writer.now
    _ledger(writer, "stop", effect.words or writer.words)


def _opt_in(writer: Writer, effect: fx.OptIn) -> None:
    writer.contact["opted_out_at"] = None
    writer.contact["consented_at"] = writer.now
    _ledger(writer, "start", effect.words or writer.words)


def _show_consent(writer: Writer, effect: fx.ShowConsent) -> None:
    spoken = writer.reached_by is not None
    _ledger(writer, "shown", writer.service.catalogues.text(writer.language, effect.message, spoken=spoken))


_WRITERS: Mapping[type, Callable[[Writer, Any], None]] = {
    fx.SetContact: _set_contact,
    fx.SetRole: _set_role,
    fx.SetHousehold: _set_household,
    fx.AddWall: _add_wall,
    fx.UpdateWall: _update_wall,
    fx.AddPlace: _add_place,
    fx.UpdatePlace: _update_place,
    fx.ScheduleCheck: _schedule,
    fx.CancelChecks: _cancel_checks,
    fx.ScheduleLookBack: _schedule_look_back,
    fx.Escalate: _escalate,
    fx.ReportMould: _report_mould,
    fx.WithdrawMould: _withdraw_mould,
    fx.FloodedAgain: _flooded_again,
    fx.NewWaterTakenBack: _water_taken_back,
    fx.OptOut: _opt_out,
    fx.OptIn: _opt_in,
    fx.ShowConsent: _show_consent,
    **storing_checks.APPLY,
    **joining.APPLY,
}
