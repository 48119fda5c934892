"""Effects carried out on the records, in the turn's transaction. One writer a turn; ids are made here."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from sqlalchemy import Connection, Table, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session

from guide_service import jobs, outbox
from guide_service.dialogue import effects as fx
from guide_service.drying.assessment import Assessment, PlaceVerdict, Reason
from guide_service.drying.terms import Reading
from guide_service.followup.escalations import raise_escalation
from guide_service.followup.quiet_hours import reminder_time
from guide_service.records import (
    Check,
    ConsentEvent,
    Contact,
    Membership,
    MouldReport,
    PlaceRow,
    ReadingRow,
    ReadyAnswer,
    Verdict,
    WallRow,
)
from guide_service.records.base import new_id
from guide_service.records.prepared import Insert, Prepared, change
from guide_service.turning import joining
from guide_service.wiring import Service

STOPPED_KEYS = ("check", "nudge", "look_back")
"""Jobs of a household that end when it opts out or has done its check."""


def _table(model: Any) -> Table:
    table: Table = model.__table__
    return table


_READINGS = Insert(_table(ReadingRow), without=("agent_id", "superseded_at"))
_VERDICTS = Insert(_table(Verdict))
_OF_DAY: dict[str, Any] = {"index_elements": ["household_id", "taken_on"]}
_NEW_VISIT = Prepared(
    {
        "sqlite": sqlite.insert(_table(Check)).on_conflict_do_nothing(**_OF_DAY),
        "postgresql": postgresql.insert(_table(Check)).on_conflict_do_nothing(**_OF_DAY),
    },
    *_table(Check).c.keys(),
)


@dataclass(slots=True)
class Writer:
    """Applies the effects of one turn for one household; collects what the household's own row becomes."""

    connection: Connection
    service: Service
    now: dt.datetime
    contact_id: int
    household_id: int
    conversation_id: int
    message_id: int | None
    language: str
    area: str | None
    facts: dict[str, Any]
    visits: dict[dt.date, int]
    """Ids of the visits by day."""
    walls: dict[str, int]
    places: dict[str, int]
    words: str = ""
    household: dict[str, Any] = field(default_factory=dict)
    contact: dict[str, Any] = field(default_factory=dict)
    new_readings: dict[str, int] = field(default_factory=dict)
    consented: bool = True
    _session: Session | None = None

    def apply(self, effects: tuple[fx.Effect, ...]) -> None:
        for effect in self.merged(effects):
            _APPLY[type(effect)](self, effect)
        if self._session is not None:
            self._session.flush()

    @property
    def session(self) -> Session:
        """For rows that are seldom written: in the same transaction, made when it is needed."""
        if self._session is None:
            self._session = Session(self.connection, expire_on_commit=False)
        return self._session

    @staticmethod
    def merged(effects: tuple[fx.Effect, ...]) -> list[fx.Effect]:
        """The last date wins: a check is planned once a turn, however often it was worked out."""
        planned = [effect for effect in effects if isinstance(effect, fx.ScheduleCheck)]
        return [e for e in effects if not isinstance(e, fx.ScheduleCheck)] + planned[-1:]

    @property
    def long_silence(self) -> dt.timedelta:
        return dt.timedelta(days=self.service.county.identity.silent_days)

    # what is known of a visit, wall or place by the dialogue's names
    def visit(self, day: dt.date) -> int:
        if day not in self.visits:
            self.visits[day] = new_id()
            row = Check(
                id=self.visits[day],
                household_id=self.household_id,
                contact_id=self.contact_id,
                taken_on=day,
                opened_at=self.now,
            )
            _NEW_VISIT.run(self.connection, row.model_dump())
        return self.visits[day]

    def reading_id(self, name: str) -> int:
        return self.new_readings[name] if name.startswith("new:") else int(name)


def _set_contact(writer: Writer, effect: fx.SetContact) -> None:
    if effect.language:
        writer.contact["language"] = writer.language = effect.language
    if effect.consented is not None:
        writer.contact["consented_at"] = writer.now if effect.consented else None
        writer.consented = effect.consented
        _ledger(writer, "given" if effect.consented else "refused", writer.words)


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
                message_id=writer.message_id,
            )
        )


def _set_role(writer: Writer, effect: fx.SetRole) -> None:
    table = _table(Membership)
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
        change(writer.connection, _table(WallRow), writer.walls[effect.letter], values)


def _add_place(writer: Writer, effect: fx.AddPlace) -> None:
    """New, or one that was left out before and comes back under its label."""
    if effect.label in writer.places:
        again = {"removed_at": None, "followed": effect.followed}
        change(writer.connection, _table(PlaceRow), writer.places[effect.label], again)
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
    change(writer.connection, _table(PlaceRow), writer.places[effect.label], values)


def _set_check(writer: Writer, effect: fx.SetCheck) -> None:
    visit = writer.visit(effect.taken_on)
    told = {name: getattr(effect, name) for name in ("mode", "self_check", "block_value", "meter", "temp_c")}
    values = {name: value for name, value in told.items() if value is not None}
    if effect.closed:
        values["closed_at"] = writer.now
    change(writer.connection, _table(Check), visit, values)


def _record_readings(writer: Writer, effect: fx.RecordReadings) -> None:
    for new in effect.readings:
        writer.new_readings[new.reading.id] = new_id()
    _READINGS.run(writer.connection, *[_reading_row(writer, new) for new in effect.readings])
    _supersede(writer, *(row for row in map(_stored_one_replaced, effect.readings) if row is not None))


def _stored_one_replaced(new: fx.NewReading) -> int | None:
    """Of an earlier turn: what replaces a reading of the same text is not."""
    return int(new.replaces) if new.replaces and not new.replaces.startswith("new:") else None


def _supersede(writer: Writer, *ids: int) -> None:
    for row in ids:
        change(writer.connection, _table(ReadingRow), row, {"superseded_at": writer.now})


def _reading_row(writer: Writer, new: fx.NewReading) -> dict[str, Any]:
    reading: Reading = new.reading
    own_mode = str(reading.mode) if reading.mode in {"pinless", "other_scale", "colour"} else None
    return {
        "id": writer.new_readings[reading.id],
        "household_id": writer.household_id,
        "check_id": writer.visit(reading.taken_on),
        "message_id": writer.message_id,
        "contact_id": writer.contact_id,
        "place": reading.place,
        "point": str(reading.point),
        "value": reading.value,
        "qualifier": str(reading.qualifier),
        "material": str(reading.material),
        "mode": own_mode,
        "colour": reading.colour,
        "resolution": reading.resolution,
        "typed": new.typed[:200],
        "taken_on": reading.taken_on,
        "arrived_at": writer.now,
        "confirmed": reading.confirmed,
        "replaces": _stored_one_replaced(new),
    }


def _withdraw(writer: Writer, effect: fx.WithdrawReadings) -> None:
    _supersede(writer, *(writer.reading_id(name) for name in effect.ids))


def _store_assessment(writer: Writer, effect: fx.StoreAssessment) -> None:
    assessment = effect.assessment
    told = [verdict for verdict in assessment.verdicts if verdict.place in effect.told]
    if told:
        _VERDICTS.run(writer.connection, *(_verdict_row(writer, v, assessment.policy_version) for v in told))
    writer.household.update(_summary(assessment))
    if told:
        day = max(writer.visits, default=None)
        writer.household["last_check_on"] = day
    for wall in assessment.walls:
        if wall.ready and wall.wall in effect.ready_walls and wall.lapses_on:
            writer.session.add(
                ReadyAnswer(
                    household_id=writer.household_id,
                    wall_id=writer.walls[wall.wall],
                    message_id=writer.message_id,
                    covers=list(wall.covers),
                    at=writer.now,
                    policy_version=assessment.policy_version,
                    lapses_on=wall.lapses_on,
                )
            )


def _verdict_row(writer: Writer, verdict: PlaceVerdict, policy_version: int) -> dict[str, Any]:
    forecast = verdict.forecast
    return {
        "id": new_id(),
        "household_id": writer.household_id,
        "check_id": None,
        "message_id": writer.message_id,
        "place": verdict.place,
        "band": str(verdict.band),
        "worst": verdict.worst.value if verdict.worst else None,
        "passes": verdict.passes,
        "reasons": [_reason_row(reason) for reason in verdict.reasons],
        "readings": [str(writer.reading_id(name)) for name in verdict.readings],
        "forecast": {f.name: _told(getattr(forecast, f.name)) for f in fields(forecast)} if forecast else None,
        "policy_version": policy_version,
        "at": writer.now,
    }


def _told(value: object) -> str | None:
    return str(value) if value else None


def _reason_row(reason: Reason) -> dict[str, Any]:
    return {"code": str(reason.code), "args": {name: _plain(value) for name, value in reason.args.items()}}


def _plain(value: object) -> object:
    """As JSON holds it."""
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, tuple | list | frozenset | set):
        return [_plain(item) for item in value]
    return value if isinstance(value, int | float | str | bool | None) else str(value)


def _summary(assessment: Assessment) -> dict[str, Any]:
    """The household's row, which lists read instead of the history."""
    bands = [str(verdict.band) for verdict in assessment.verdicts]
    counts = {band: bands.count(band) for band in ("wet", "caution", "dry")}
    worst = next((band for band, count in counts.items() if count), "unread")
    return {
        **counts,
        "band": worst,
        "ready_walls": sum(wall.ready for wall in assessment.walls),
        "stalled": any(finding.kind in {"stalled", "too_slow"} for finding in assessment.findings),
    }


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


def _flooded_again(writer: Writer, effect: fx.FloodedAgain) -> None:
    writer.household["flooded_again_on"] = effect.on
    writer.household["ready_walls"] = 0


def _opt_out(writer: Writer, effect: fx.OptOut) -> None:
    writer.contact["opted_out_at"] = writer.now
    _ledger(writer, "stop", effect.words or writer.words)


def _opt_in(writer: Writer, effect: fx.OptIn) -> None:
    writer.contact["opted_out_at"] = None
    writer.contact["consented_at"] = writer.now
    _ledger(writer, "start", effect.words or writer.words)


def _show_consent(writer: Writer, _effect: fx.ShowConsent) -> None:
    _ledger(writer, "shown", writer.service.catalogues.text(writer.language, "welcome.intro"))


_APPLY: Mapping[type, Callable[[Writer, Any], None]] = {
    fx.SetContact: _set_contact,
    fx.SetRole: _set_role,
    fx.SetHousehold: _set_household,
    fx.AddWall: _add_wall,
    fx.UpdateWall: _update_wall,
    fx.AddPlace: _add_place,
    fx.UpdatePlace: _update_place,
    fx.SetCheck: _set_check,
    fx.RecordReadings: _record_readings,
    fx.WithdrawReadings: _withdraw,
    fx.StoreAssessment: _store_assessment,
    fx.ScheduleCheck: _schedule,
    fx.CancelChecks: _cancel_checks,
    fx.ScheduleLookBack: _schedule_look_back,
    fx.Escalate: _escalate,
    fx.ReportMould: _report_mould,
    fx.FloodedAgain: _flooded_again,
    fx.OptOut: _opt_out,
    fx.OptIn: _opt_in,
    fx.ShowConsent: _show_consent,
    **joining.APPLY,
}
