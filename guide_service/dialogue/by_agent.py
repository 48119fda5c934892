"""What an agent enters for a household: readings of a visit, a reading put right, a check moved.

The same assessment as for the household's own texts, and the same sentences about what the numbers mean; only who took
or corrected them is said first. Pure: the caller stores the effects and sends the sentences.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from guide_service.dialogue.check import resolve
from guide_service.dialogue.context import Context
from guide_service.dialogue.deeds_places import take_away_wall
from guide_service.dialogue.effects import (
    Effect,
    NewReading,
    RecordReadings,
    ScheduleCheck,
    SetCheck,
    UpdateWall,
    WithdrawReadings,
)
from guide_service.dialogue.events import Asked, ReadingsHeard
from guide_service.dialogue.facts import CheckFacts, Facts
from guide_service.dialogue.saying import Argument, Say
from guide_service.dialogue.tell_numbers import number_said
from guide_service.dialogue.tell_verdicts import told_of
from guide_service.drying.terms import Mode, Point, Qualifier, Reading, SelfCheck
from guide_service.wording.formats import capital
from guide_service.wording.messages import Message

Messages = Mapping[str, Message]


@dataclass(frozen=True, slots=True)
class Entered:
    effects: tuple[Effect, ...] = ()
    says: tuple[Say, ...] = ()
    unclear: tuple[str, ...] = ()
    """Words that were not understood with certainty: then nothing is stored."""
    not_ready: tuple[str, ...] = ()
    """Letters of walls that do not meet the closing rule now."""


@dataclass(frozen=True, slots=True)
class PutRight:
    """What a reading should have been; None for its place or point: as it was."""

    value: float
    qualifier: Qualifier = Qualifier.EXACT
    place: str | None = None
    point: Point | None = None
    typed: str = ""


def visit_readings(facts: Facts, messages: Messages, heard: ReadingsHeard, day: dt.date, visit: CheckFacts) -> Entered:
    """Readings that an agent took; they count as confirmed. Only places that are known, only what is certain."""
    sheet = Context.of(replace(facts.with_another_meter(), role="owner"), {}, Asked(), messages)
    earlier = facts.checks.get(day)
    asked = visit if earlier is None or earlier.mode == Mode.NOT_ASKED else earlier
    sheet.checks[day] = asked
    resolved = resolve(replace(heard, taken_on=day), sheet)
    unclear = [one.raw for one in resolved.unclear] + [one.words or one.items[0].raw for one in resolved.unplaced]
    if unclear or not resolved.readings:
        return Entered(unclear=tuple(unclear) or ("",))
    sheet.new_readings += resolved.readings
    sheet.touched += dict.fromkeys(new.reading.place for new in resolved.readings)
    sheet.add(
        SetCheck(day, mode=str(asked.mode), self_check=str(asked.self_check), temp_c=heard.temp_c),
        RecordReadings(tuple(resolved.readings)),
    )
    sheet.forget_assessment()
    said = Say("agent.visit_read", {"office": facts.county.office_name, "date": day})
    return _entered(sheet, said)


def put_right(facts: Facts, messages: Messages, old: Reading, right: PutRight) -> Entered:
    """A new row in place of the misunderstood one; the old one stays as it was and no longer counts."""
    sheet = Context.of(facts, {}, Asked(), messages)
    place, point = right.place or old.place, right.point or old.point
    colour = None if old.value is None else old.colour
    mode = sheet.visit(old.taken_on).mode if old.mode == Mode.COLOUR else old.mode
    new = replace(old, id="new:0", value=right.value, qualifier=right.qualifier, place=place, point=point,
                  colour=colour, mode=mode, confirmed=True)  # fmt: skip
    entry = NewReading(new, right.typed, replaces=old.id)
    sheet.new_readings.append(entry)
    sheet.touched += dict.fromkeys((place, old.place))
    sheet.add(RecordReadings((entry,)))
    sheet.forget_assessment()
    moved = (place, point) != (old.place, old.point)
    args: dict[str, Argument] = {"place": place, "point": Say(f"point.{point}"), "value": number_said(new)}
    said = Say("agent.moved", args) if moved else Say("agent.corrected", {**args, "old_value": number_said(old)})
    return _entered(sheet, said)


def take_out(facts: Facts, messages: Messages, old: Reading) -> Entered:
    """What was no reading counts no longer."""
    sheet = Context.of(facts, {}, Asked(), messages)
    sheet.withdrawn.add(old.id)
    sheet.touched.append(old.place)
    sheet.add(WithdrawReadings((old.id,)))
    sheet.forget_assessment()
    args: dict[str, Argument] = {"place": old.place, "point": Say(f"point.{old.point}"), "value": number_said(old)}
    return _entered(sheet, Say("agent.withdrawn", args))


def rename_wall(facts: Facts, letter: str, name: str) -> Entered:
    """Another name for a wall; its labels stay, since they stand on the studs."""
    args: dict[str, Argument] = {"wall": facts.wall_name(letter), "room": name}
    return Entered((UpdateWall(letter, name=name),), (Say("agent.wall_renamed", args),))


def remove_wall(facts: Facts, messages: Messages, letter: str) -> Entered:
    """A wall that is none leaves the list; numbers that were read there stay in the history and count no longer."""
    sheet = Context.of(facts, {}, Asked(), messages)
    wall = next(wall for wall in sheet.walls if wall.id == letter)
    labels = {place.label for place in sheet.places if place.wall == letter}
    gone = tuple(reading.id for reading in facts.readings if reading.place in labels)
    sheet.withdrawn.update(gone)
    if gone:
        sheet.add(WithdrawReadings(gone))
    take_away_wall(sheet, wall)
    said = Say("agent.wall_removed", {"wall": wall.name})
    if not sheet.places:
        return Entered(tuple(sheet.effects), (said,), not_ready=(letter,))
    entered = _entered(sheet, said)
    return replace(entered, not_ready=(*entered.not_ready, letter))


def assessed_again(facts: Facts, messages: Messages) -> Entered:
    """After two files became one: the summary and the next check from everything that stands. Nothing is said."""
    sheet = Context.of(facts, {}, Asked(), messages)
    sheet.touched += dict.fromkeys(reading.place for reading in facts.readings if sheet.place(reading.place))
    return replace(_entered(sheet, Say("agent.visit_read")), says=()) if sheet.touched else Entered()


def weighed(facts: Facts, messages: Messages, told: str) -> Entered:
    """After an agent decided about the house: everything that stands once more, and the one sentence that says so."""
    return replace(assessed_again(facts, messages), says=(Say(told, {"office": facts.county.office_name}),))


def check_on(facts: Facts, day: dt.date | None) -> Entered:
    """The next check where an agent wants it, or none."""
    if day is None:
        return Entered((ScheduleCheck(None),), (Say("agent.check_none"),))
    args: dict[str, Argument] = {"office": facts.county.office_name, "date": day}
    return Entered((ScheduleCheck(day),), (Say("agent.check_moved", args),))


def no_longer(facts: Facts, letters: Sequence[str]) -> tuple[Say, ...]:
    """Of walls that were said to meet the limit, and do not on what is known now."""
    return tuple(Say("agent.no_longer", {"wall": capital(facts.wall_name(letter))}) for letter in letters)


def _entered(sheet: Context, first: Say) -> Entered:
    says = told_of(sheet, sheet.readings())
    not_ready = tuple(wall.wall for wall in sheet.assessment().walls if not wall.ready)
    return Entered(tuple(sheet.effects), (first, *says), not_ready=not_ready)


AGENTS_VISIT = CheckFacts(Mode.WOOD_PINS, SelfCheck.PASSED)
"""What an agent confirms by a tick: pins, wood setting, checked before use."""
