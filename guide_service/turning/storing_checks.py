"""Checks, readings and verdicts as the turn's effects write them. A reading is never changed, only superseded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import fields
from typing import Any

from guide_service import jobs
from guide_service.dialogue import effects as fx
from guide_service.drying.assessment import Assessment, PlaceVerdict, Reason
from guide_service.drying.terms import Band, Reading
from guide_service.records import Audit, Check, ReadingRow, ReadyAnswer, Verdict
from guide_service.records.base import new_id
from guide_service.records.prepared import Insert, change
from guide_service.turning.writer import Writer, table_of

_READINGS = Insert(table_of(ReadingRow), without=("agent_id", "superseded_at"))
_READINGS_OF_AGENTS = Insert(table_of(ReadingRow), without=("superseded_at",))
_OWN_MODES = frozenset({"pinless", "other_scale", "colour"})
_VERDICTS = Insert(table_of(Verdict))
ASK_AFTER = dt.timedelta(minutes=15)
"""After a helper's last text, so that a round is asked about once. Our choice."""


def _set_check(writer: Writer, effect: fx.SetCheck) -> None:
    visit = writer.visit(effect.taken_on)
    told = {name: getattr(effect, name) for name in ("mode", "self_check", "block_value", "meter", "temp_c")}
    values = {name: value for name, value in told.items() if value is not None}
    if effect.closed:
        values["closed_at"] = writer.now
    change(writer.connection, table_of(Check), visit, values)


def _record_readings(writer: Writer, effect: fx.RecordReadings) -> None:
    for new in effect.readings:
        writer.new_readings[new.reading.id] = new_id()
    insert = _READINGS if writer.agent_id is None else _READINGS_OF_AGENTS
    insert.run(writer.connection, *[_reading_row(writer, new) for new in effect.readings])
    for day, recall in {(new.reading.taken_on, new.reading.recall) for new in effect.readings if new.reading.recall}:
        change(writer.connection, table_of(Check), writer.visit(day), {"recall_id": int(recall)})
    if any(not new.reading.confirmed for new in effect.readings):
        _ask_the_house(writer)
    _supersede(writer, *(row for row in map(_stored_one_replaced, effect.readings) if row is not None))


def _stored_one_replaced(new: fx.NewReading) -> int | None:
    """Of an earlier turn: what replaces a reading of the same text is not."""
    return int(new.replaces) if new.replaces and not new.replaces.startswith("new:") else None


def _supersede(writer: Writer, *ids: int) -> None:
    change(writer.connection, table_of(ReadingRow), ids, {"superseded_at": writer.now})


def _reading_row(writer: Writer, new: fx.NewReading) -> dict[str, Any]:
    reading: Reading = new.reading
    # the meter of somebody who is no member says nothing of the other readings of that day: its setting stays with it
    own = reading.mode in _OWN_MODES or (writer.agent_id is not None and reading.mode == "wood_pins")
    return {
        "id": writer.new_readings[reading.id],
        "household_id": writer.household_id,
        "check_id": writer.visit(reading.taken_on),
        "message_id": writer.message_id,
        "contact_id": writer.contact_id if writer.agent_id is None else None,
        "agent_id": writer.agent_id,
        "place": reading.place,
        "point": str(reading.point),
        "value": reading.value,
        "qualifier": str(reading.qualifier),
        "material": str(reading.material),
        "mode": str(reading.mode) if own else None,
        "colour": reading.colour,
        "resolution": reading.resolution,
        "typed": new.typed[:200],
        "taken_on": reading.taken_on,
        "arrived_at": writer.now,
        "confirmed": reading.confirmed,
        "replaces": _stored_one_replaced(new),
        "recall_id": int(reading.recall) if reading.recall else None,
    }


def _confirm(writer: Writer, effect: fx.ConfirmReadings) -> None:
    rows = [writer.reading_id(row) for row in effect.ids]
    change(writer.connection, table_of(ReadingRow), rows, {"confirmed": True})
    detail = {"contact": str(writer.contact_id), "readings": str(len(effect.ids))}
    writer.session.add(Audit(at=writer.now, household_id=writer.household_id, action="confirm_readings", detail=detail))


def _ask_the_house(writer: Writer) -> None:
    """A helper's round is put before somebody of the house when it has come in: one text for all of it."""
    key, payload = f"confirm:{writer.household_id}", {"household": writer.household_id}
    at = writer.now + ASK_AFTER
    jobs.enqueue(writer.connection, "confirm_due", key=key, payload=payload, run_at=at, now=writer.now)


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
        **_expected_dry(assessment),
    }


def _expected_dry(assessment: Assessment) -> dict[str, dt.date | None]:
    """A house is as late as its slowest place; one place without a date leaves the house without one."""
    still_wet = [verdict.forecast for verdict in assessment.verdicts if verdict.band in {Band.WET, Band.CAUTION}]
    likely = [forecast.likely if forecast else None for forecast in still_wet]
    late = [forecast.latest if forecast else None for forecast in still_wet]
    return {"dry_on": _last_of_all(likely), "dry_by": _last_of_all(late)}


def _last_of_all(days: list[dt.date | None]) -> dt.date | None:
    known = [day for day in days if day is not None]
    return max(known, default=None) if len(known) == len(days) else None


APPLY: Mapping[type, Callable[[Writer, Any], None]] = {
    fx.SetCheck: _set_check,
    fx.RecordReadings: _record_readings,
    fx.WithdrawReadings: _withdraw,
    fx.ConfirmReadings: _confirm,
    fx.StoreAssessment: _store_assessment,
}
