"""A household's drying log read from the records: nothing is left out, nothing names a phone."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from guide_service.console import words
from guide_service.console.catalogue import gettext
from guide_service.console.figures import measured
from guide_service.console.household_file import HouseholdFile, read_file
from guide_service.console.log_plots import plots_of
from guide_service.console.log_policies import policies_of
from guide_service.console.log_reasons import MATERIALS, in_words
from guide_service.console.log_values import LogCheck, LogReading, LogSheet, LogVerdict, LogWall
from guide_service.console.pages import area_name, number
from guide_service.console.roles import Role
from guide_service.console.times import day, local_time, long_day
from guide_service.dialogue.labels import order_of
from guide_service.records import (
    Agent,
    Check,
    DryingLog,
    Household,
    Membership,
    MeterRecall,
    ReadingRow,
    ReadyAnswer,
    Verdict,
)
from guide_service.wiring import Service


@dataclass(frozen=True)
class _Read:
    """What the rows are explained with."""

    service: Service
    file: HouseholdFile
    roles: dict[int, str]
    """Of each phone that ever was a member."""
    recalls: dict[int, MeterRecall]
    replaced: dict[int, ReadingRow]
    """By the id of the reading that they stand for."""

    def at(self, at: dt.datetime) -> str:
        return local_time(at, self.service.county.zone(self.file.household.area))


def log_sheet(session: Session, service: Service, home: Household, log: DryingLog) -> LogSheet:
    read = _read(session, service, home)
    verdicts = list(session.exec(select(Verdict).where(Verdict.household_id == home.id).order_by(col(Verdict.id))))
    answers = list(
        session.exec(select(ReadyAnswer).where(ReadyAnswer.household_id == home.id).order_by(col(ReadyAnswer.id)))
    )
    versions = {each.policy_version for each in verdicts} | {each.policy_version for each in answers}
    county = service.county
    return LogSheet(
        number=number_shown(log.number),
        county=county.name,
        office=county.office_name,
        call_back=county.call_back,
        address=home.address or gettext("address not given"),
        area=area_name(service, home.area),
        made=_with_year(read, service.clock.now()),
        walls=tuple(_wall(read, wall.id, answers) for wall in read.file.walls),
        checks=_checks(read, verdicts),
        plots=plots_of(session, service, home, read.file),
        policies=policies_of(session, service, versions, read.at),
        notes=_notes(read),
    )


def _with_year(read: _Read, at: dt.datetime) -> str:
    return f"{read.at(at)}, {at.astimezone(read.service.county.zone(read.file.household.area)).year}"


def number_shown(number: str) -> str:
    return f"{number[:4]}-{number[4:]}"


def _read(session: Session, service: Service, home: Household) -> _Read:
    file = read_file(session, home)
    members = session.exec(select(Membership).where(Membership.household_id == home.id))
    return _Read(
        service,
        file,
        {each.contact_id: each.role for each in members},
        file.recalls,
        {each.replaces: each for each in file.readings if each.replaces},
    )


def _checks(read: _Read, verdicts: list[Verdict]) -> tuple[LogCheck, ...]:
    readings: dict[int, list[ReadingRow]] = defaultdict(list)
    for row in read.file.readings:
        readings[row.check_id].append(row)
    told = _by_check(read, verdicts)
    return tuple(
        _check(read, visit, readings[visit.id], told.get(visit.id, []))
        for visit in read.file.visits
        if readings[visit.id] or visit.id in told
    )


def _check(read: _Read, visit: Check, readings: list[ReadingRow], verdicts: list[Verdict]) -> LogCheck:
    recall = read.recalls.get(visit.recall_id or 0)
    order = defaultdict(lambda: len(words.POINTS), {point: at for at, point in enumerate(words.POINTS)})
    ordered = sorted(readings, key=lambda row: (order_of(row.place), order[row.point], row.id))
    return LogCheck(
        on=visit.taken_on,
        day=long_day(visit.taken_on),
        facts=_asked(visit),
        recalled=recall.reason if recall else "",
        readings=tuple(_reading(read, row) for row in ordered),
        verdicts=tuple(_verdict(read, verdict) for verdict in _without_repeats(verdicts)),
    )


def _asked(visit: Check) -> tuple[tuple[str, str], ...]:
    block = (
        gettext("%(value)s on its check block") % {"value": measured(visit.block_value)} if visit.block_value else ""
    )
    check = ", ".join(filter(None, (words.word(words.SELF_CHECKS, visit.self_check), block)))
    wood = f"{measured(visit.temp_c)} \N{DEGREE SIGN}C" if visit.temp_c is not None else gettext("not measured")
    return (
        (gettext("Meter"), visit.meter or gettext("not named")),
        (gettext("Setting"), words.word(words.MODES, visit.mode)),
        (gettext("Meter's own check"), check),
        (gettext("Wood temperature"), wood),
    )


def _reading(read: _Read, row: ReadingRow) -> LogReading:
    state = _state(read, row)
    material = words.word(MATERIALS, row.material)
    return LogReading(
        place=row.place,
        point=words.word(words.POINTS, row.point),
        material=f"{material}, {words.word(words.MODES, row.mode)}" if row.mode else material,
        number=number(row),
        typed=row.typed,
        taken_by=_taken_by(read, row),
        arrived=read.at(row.arrived_at),
        state=state or gettext("counts"),
        counts=not state,
        stands=row.superseded_at is None,
    )


def _state(read: _Read, row: ReadingRow) -> str:
    """Empty for a reading that counts."""
    if row.superseded_at is not None:
        new = read.replaced.get(row.id)
        at = read.at(row.superseded_at)
        if new is None:
            return gettext("withdrawn, %(at)s") % {"at": at}
        what = f"{new.place} {words.word(words.POINTS, new.point)} {number(new)}"
        return gettext("corrected to %(what)s, %(at)s") % {"what": what, "at": at}
    flooded = read.file.household.flooded_again_on
    if flooded is not None and row.taken_on <= flooded:
        return gettext("does not count: flooded again %(day)s") % {"day": day(flooded)}
    if row.recall_id:
        return gettext("recalled: can only worsen")
    return "" if row.confirmed else gettext("not confirmed")


def _taken_by(read: _Read, row: ReadingRow) -> str:
    if row.agent_id is not None:
        agent: Agent | None = read.file.agents.get(row.agent_id)
        volunteer = agent is not None and agent.role == Role.VOLUNTEER
        return gettext("volunteer of a measuring round") if volunteer else gettext("county agent")
    role = read.roles.get(row.contact_id or 0)
    return words.word(words.ROLES, role or "unknown")


def _by_check(read: _Read, verdicts: list[Verdict]) -> dict[int, list[Verdict]]:
    """A verdict stands with the newest check among the readings behind it, else with the last one before it."""
    check_of = {str(row.id): row.check_id for row in read.file.readings}
    order = {visit.id: at for at, visit in enumerate(read.file.visits)}
    zone = read.service.county.zone(read.file.household.area)
    found: dict[int, list[Verdict]] = defaultdict(list)
    for verdict in verdicts:
        behind = [order[check_of[name]] for name in verdict.readings if check_of.get(name) in order]
        on = verdict.at.astimezone(zone).date()
        before = [at for at, visit in enumerate(read.file.visits) if visit.taken_on <= on]
        if behind or before:
            found[read.file.visits[max(behind or before)].id].append(verdict)
    return found


def _without_repeats(verdicts: list[Verdict]) -> list[Verdict]:
    """A check sent in several texts is answered several times: an answer that says the same again is left out."""
    last: dict[str, tuple[Any, ...]] = {}
    told = []
    for verdict in verdicts:
        says = (verdict.band, verdict.passes, verdict.reasons, verdict.policy_version, verdict.recall_id)
        if last.get(verdict.place) != says:
            told.append(verdict)
        last[verdict.place] = says
    return sorted(told, key=lambda each: (order_of(each.place), each.id))


def _verdict(read: _Read, verdict: Verdict) -> LogVerdict:
    return LogVerdict(
        place=verdict.place,
        band=verdict.band,
        band_word=words.word(words.BANDS, verdict.band),
        passes=verdict.passes,
        reasons=tuple(in_words(verdict.reasons)),
        policy_version=verdict.policy_version,
        told=read.at(verdict.at),
        recalled=verdict.recall_id is not None,
    )


def _wall(read: _Read, wall_id: int, answers: list[ReadyAnswer]) -> LogWall:
    wall = next(each for each in read.file.walls if each.id == wall_id)
    labels = [
        place.label + (f" ({gettext('removed')})" if place.removed_at else "") for place in read.file.places_of(wall)
    ]
    said = tuple(_answer(read, each) for each in answers if each.wall_id == wall_id)
    return LogWall(f"{wall.letter}: {wall.name}", ", ".join(labels), wall.bays, said)


def _answer(read: _Read, answer: ReadyAnswer) -> str:
    at = read.at(answer.at)
    if not answer.covers:
        return gettext("%(at)s: no longer said to meet the county's limit") % {"at": at}
    told = gettext("%(at)s: readings of %(places)s met the limit of policy version %(version)s; lapses %(day)s") % {
        "at": at,
        "places": ", ".join(answer.covers),
        "version": answer.policy_version,
        "day": day(answer.lapses_on),
    }
    return told + (f" ({gettext('recalled')})" if answer.recall_id else "")


def _notes(read: _Read) -> tuple[str, ...]:
    found = []
    for report in reversed(read.file.moulds):
        told = gettext("Mold %(sense)s, %(at)s") % {"sense": words.word(words.SENSES, report.sense).lower(),
                                                   "at": read.at(report.reported_at)}  # fmt: skip
        lifted = gettext("lifted %(at)s") % {"at": read.at(report.lifted_at)} if report.lifted_at else gettext("open")
        found.append(f"{told}: {lifted}")
    flooded = read.file.household.flooded_again_on
    if flooded:
        found.append(gettext("Flooded again on %(day)s: readings of before do not count.") % {"day": day(flooded)})
    return tuple(found)
