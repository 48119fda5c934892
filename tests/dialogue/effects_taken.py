"""What a turn's effects make of a household's facts, as the database would: the machine is walked without one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from guide_service.dialogue import effects as fx
from guide_service.dialogue.facts import CheckFacts, Facts
from guide_service.drying.terms import Mode, Place, PlaceKind, SelfCheck, Wall
from tests.dialogue import whose_house


def after(facts: Facts, effects: Sequence[fx.Effect]) -> Facts:
    for effect in effects:
        change = _CHANGES.get(type(effect))
        if change:
            facts = change(facts, effect)
    return facts


def _contact(facts: Facts, effect: fx.SetContact) -> Facts:
    consented = facts.consented if effect.consented is None else effect.consented
    by_phone = facts.house.by_phone if effect.channel is None else effect.channel == "call"
    house = replace(facts.house, by_phone=by_phone)
    return replace(facts, language=effect.language or facts.language, consented=consented, house=house)


def _household(facts: Facts, effect: fx.SetHousehold) -> Facts:
    told = {**facts.household, **effect.facts}
    washed = told.get("washed_on")
    circumstances = replace(
        facts.circumstances,
        washed_on=dt.date.fromisoformat(washed) if isinstance(washed, str) else None,
        mould_open=facts.circumstances.mould_open or told.get("smell") == "open",
    )
    return replace(
        facts,
        area=effect.area or facts.area,
        address=effect.address or facts.address,
        stage=effect.stage or facts.stage,
        household=told,
        circumstances=circumstances,
    )


def _add_wall(facts: Facts, effect: fx.AddWall) -> Facts:
    return replace(
        facts,
        walls=(*facts.walls, Wall(effect.letter, effect.name, effect.bays)),
        letters_used=facts.letters_used | {effect.letter},
    )


def _update_wall(facts: Facts, effect: fx.UpdateWall) -> Facts:
    changed = {name: value for name, value in (("name", effect.name), ("bays", effect.bays)) if value is not None}
    walls = [replace(wall, **changed) if wall.id == effect.letter else wall for wall in facts.walls]
    return replace(facts, walls=tuple(wall for wall in walls if not (effect.removed and wall.id == effect.letter)))


def _add_place(facts: Facts, effect: fx.AddPlace) -> Facts:
    place = Place(effect.label, effect.wall, PlaceKind(effect.kind), followed=effect.followed)
    return replace(facts, places=(*(p for p in facts.places if p.label != effect.label), place))


def _update_place(facts: Facts, effect: fx.UpdatePlace) -> Facts:
    changed = {
        name: value
        for name, value in (("treated_plate", effect.treated_plate), ("followed", effect.followed))
        if value is not None
    }
    places = [replace(p, **changed) if p.label == effect.label else p for p in facts.places]
    return replace(facts, places=tuple(p for p in places if not (effect.removed and p.label == effect.label)))


def _set_check(facts: Facts, effect: fx.SetCheck) -> Facts:
    known = facts.checks.get(effect.taken_on, CheckFacts())
    mode = Mode(effect.mode) if effect.mode else known.mode
    self_check = SelfCheck(effect.self_check) if effect.self_check else known.self_check
    visit = CheckFacts(mode, self_check)
    own = {Mode.PINLESS, Mode.OTHER_SCALE, Mode.COLOUR}
    readings = tuple(
        replace(r, mode=r.mode if r.mode in own else mode, self_check=self_check)
        if r.taken_on == effect.taken_on
        else r
        for r in facts.readings
    )
    return replace(facts, checks={**facts.checks, effect.taken_on: visit}, readings=readings)


def _record(facts: Facts, effect: fx.RecordReadings) -> Facts:
    gone = {new.replaces for new in effect.readings}
    kept = tuple(reading for reading in facts.readings if reading.id not in gone)
    number = max((int(reading.id) for reading in facts.readings), default=0)
    new = tuple(replace(each.reading, id=str(number + n)) for n, each in enumerate(effect.readings, 1))
    return replace(facts, readings=(*kept, *new), last_readings=new)


def _withdraw(facts: Facts, effect: fx.WithdrawReadings) -> Facts:
    left = tuple(reading for reading in facts.readings if reading.id not in effect.ids)
    return replace(facts, readings=left, last_readings=())


_CHANGES: dict[type, Callable[[Facts, Any], Facts]] = {
    fx.SetContact: _contact,
    fx.SetRole: lambda facts, effect: replace(facts, role=effect.role),
    fx.SetHousehold: _household,
    fx.AddWall: _add_wall,
    fx.UpdateWall: _update_wall,
    fx.AddPlace: _add_place,
    fx.UpdatePlace: _update_place,
    fx.SetCheck: _set_check,
    fx.RecordReadings: _record,
    fx.WithdrawReadings: _withdraw,
    fx.ConfirmReadings: lambda facts, effect: replace(
        facts, readings=tuple(replace(r, confirmed=r.confirmed or r.id in effect.ids) for r in facts.readings)
    ),
    fx.ScheduleCheck: lambda facts, effect: replace(facts, next_check_on=effect.on),
    fx.CancelChecks: lambda facts, _effect: replace(facts, next_check_on=None),
    fx.Escalate: lambda facts, e: replace(facts, escalations={str(e.reason): "waiting", **facts.escalations}),
    fx.ReportMould: lambda facts, _effect: replace(facts, circumstances=replace(facts.circumstances, mould_open=True)),
    fx.FloodedAgain: lambda facts, effect: replace(
        facts, circumstances=replace(facts.circumstances, flooded_again_on=effect.on)
    ),
    fx.NewWaterTakenBack: lambda facts, effect: replace(
        facts, circumstances=replace(facts.circumstances, flooded_again_on=effect.before)
    ),
    **whose_house.CHANGES,
    fx.OptOut: lambda facts, _effect: replace(facts, opted_out=True),
    fx.OptIn: lambda facts, _effect: replace(facts, opted_out=False, consented=True),
}
