"""Deeds around a check: the round of readings, the second push, what is asked of the meter, washing, another day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from guide_service.dialogue.context import CAME_BACK, Context
from guide_service.dialogue.effects import ScheduleCheck, SetCheck, SetHousehold
from guide_service.dialogue.facts import CheckFacts
from guide_service.drying.terms import Mode, SelfCheck

DAYS_AFTER_WASHING = 2
"""No readings within two days of washing: the pins would measure wash water. Common practice."""


def begin_round(sheet: Context) -> None:
    sheet.slots["round"] = sheet.facts.today.isoformat()
    sheet.slots.pop("skipped", None)
    sheet.slots.pop("pushed", None)


def begin_round_once(sheet: Context) -> None:
    if sheet.round_since() is None:
        begin_round(sheet)


def end_round(sheet: Context) -> None:
    sheet.slots["ended"] = sheet.slots.pop("round", None)
    sheet.slots.pop("skipped", None)
    sheet.slots.pop("pushed", None)


def skip_place(sheet: Context) -> None:
    missing = sheet.missing()
    if missing:
        label, points = missing[0]
        skipped = sheet.slots.setdefault("skipped", [])
        assert isinstance(skipped, list)
        skipped.extend(f"{label}:{point}" for point in points)


def ask_push(sheet: Context) -> None:
    below = sheet.below_once()
    if below is not None:
        sheet.slots["push"] = [below[0], str(below[1])]


def pushed_again(sheet: Context) -> None:
    """The point is not asked for a third time, whatever the second push gives: a number takes the place of the one
    below the range, below once more stands beside it and agrees."""
    push = sheet.slots.pop("push", None)
    if isinstance(push, list):
        pushed = sheet.slots.setdefault("pushed", [])
        assert isinstance(pushed, list)
        pushed.append(f"{push[0]}:{push[1]}")


def note_visit(
    sheet: Context, *, mode: Mode | None = None, self_check: SelfCheck | None = None, block_value: float | None = None
) -> None:
    """Note what was asked about the meter today; what was answered before it was known is told again if it changes."""
    today = sheet.facts.today
    before = _answers_now(sheet)
    visit = sheet.visit(today)
    sheet.checks[today] = CheckFacts(mode or visit.mode, self_check or visit.self_check)
    sheet.add(
        SetCheck(
            today,
            mode=str(mode) if mode else None,
            self_check=str(self_check) if self_check else None,
            block_value=block_value,
        )
    )
    mark_asked(sheet, "setting_asked" if mode else "block_asked")
    sheet.forget_assessment()
    if _answers_now(sheet) != before:
        sheet.touched = list(dict.fromkeys(r.place for r in sheet.readings() if r.taken_on == today))


def mark_asked(sheet: Context, question: str) -> None:
    sheet.slots.pop(CAME_BACK, None)
    sheet.slots[question] = sheet.facts.today.isoformat()


def _block_none(sheet: Context) -> None:
    """Nothing was tried; who said otherwise before and comes back takes that back."""
    if sheet.visit(sheet.facts.today).self_check != SelfCheck.NOT_DONE:
        note_visit(sheet, self_check=SelfCheck.NOT_DONE)
    mark_asked(sheet, "block_asked")


def _setting_unsure(sheet: Context) -> None:
    if sheet.visit(sheet.facts.today).mode != Mode.NOT_ASKED:
        note_visit(sheet, mode=Mode.NOT_ASKED)
    mark_asked(sheet, "setting_asked")


def ask_setting_again(sheet: Context) -> None:
    """What was told late is put as its question: only an answer to it may let a number pass."""
    begin_round_once(sheet)
    sheet.slots[CAME_BACK] = "check.setting"


def _answers_now(sheet: Context) -> tuple[object, ...]:
    if not any(reading.taken_on == sheet.facts.today for reading in sheet.readings()):
        return ()
    assessment = sheet.assessment()
    bands = tuple((verdict.place, verdict.band) for verdict in assessment.verdicts)
    walls = tuple((wall.wall, wall.ready) for wall in assessment.walls)
    return bands, walls, tuple((finding.kind, finding.places) for finding in assessment.findings)


def washed_lately(sheet: Context) -> None:
    today = sheet.facts.today
    on = today + dt.timedelta(days=DAYS_AFTER_WASHING + 1)
    sheet.slots["next_check_told"] = on.isoformat()
    sheet.add(SetHousehold(facts={"washed_on": today.isoformat()}), ScheduleCheck(on))


def move_check(sheet: Context) -> None:
    """To the day the person named; within the week, since wet wood does not wait."""
    today = sheet.facts.today
    asked = sheet.event.value if isinstance(sheet.event.value, dt.date) else today + dt.timedelta(days=1)
    on = min(max(asked, today + dt.timedelta(days=1)), today + dt.timedelta(days=7))
    sheet.slots["next_check_told"] = on.isoformat()
    sheet.add(ScheduleCheck(on))


DEEDS: dict[str, Callable[[Context], None]] = {
    "begin_round": begin_round,
    "begin_round_once": begin_round_once,
    "end_round": end_round,
    "skip_place": skip_place,
    "ask_push": ask_push,
    "pushed_again": pushed_again,
    "mode_wood_pins": lambda sheet: note_visit(sheet, mode=Mode.WOOD_PINS),
    "mode_pinless": lambda sheet: note_visit(sheet, mode=Mode.PINLESS),
    "mode_other": lambda sheet: note_visit(sheet, mode=Mode.OTHER_SCALE),
    "block_passed": lambda sheet: note_visit(sheet, self_check=SelfCheck.PASSED),
    "block_failed": lambda sheet: note_visit(sheet, self_check=SelfCheck.FAILED),
    "block_none": _block_none,
    "block_left": lambda sheet: mark_asked(sheet, "block_asked"),
    "setting_unsure": _setting_unsure,
    "ask_setting_again": ask_setting_again,
    "washed_lately": washed_lately,
    "move_check": move_check,
}
