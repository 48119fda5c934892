"""Deeds of the recovery order: stages, what the house is, steps gone past, stalls looked into, walls closed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from guide_service.dialogue.answers.spelling import plain_words, stands_in
from guide_service.dialogue.context import Context, strings
from guide_service.dialogue.effects import (
    Escalate,
    EscalationReason,
    ReportMould,
    ScheduleCheck,
    ScheduleLookBack,
    SetHousehold,
    Urgency,
)
from guide_service.dialogue.guards_order import day_of, stall_asked_lately, stalled_places
from guide_service.dialogue.stages import Stage, role_of, stage_of, told
from guide_service.drying.assessment import FindingKind

MOST_SKIPPED = 40


def remember(sheet: Context, **facts: object) -> None:
    """Remember what the household told of itself, for this turn's guards and for the records."""
    _now(sheet).update(facts)
    sheet.add(SetHousehold(facts=facts))


def _now(sheet: Context) -> dict[str, object]:
    now = sheet.slots.setdefault("told_now", {})
    assert isinstance(now, dict)
    return now


def _stage(stage: Stage) -> Callable[[Context], None]:
    """Where the house stands. A tenant's steps do not move a house that its owner takes through the order."""

    def enter(sheet: Context) -> None:
        tenant, led = role_of(sheet) == "renter", told(sheet, "owner_leads") is True
        if stage_of(sheet) == stage or (tenant and led):
            return
        _now(sheet)["stage"] = str(stage)
        sheet.add(SetHousehold(stage=str(stage)))
        if not (tenant or led):
            remember(sheet, owner_leads=True)

    return enter


def _answer(name: str, given: object = None) -> Callable[[Context], None]:
    """Keep the answer to a question of the house; ``given`` where the event holds none."""
    return lambda sheet: remember(sheet, **{name: sheet.event.value if given is None else given})


def _today(name: str) -> Callable[[Context], None]:
    return lambda sheet: remember(sheet, **{name: sheet.facts.today.isoformat()})


def _note_skipped(sheet: Context) -> None:
    """A step gone past is no step done: the agent sees which."""
    skipped = list(strings(told(sheet, "skipped")))
    step = str(sheet.slots.get("state", "")).partition(".")[2]
    if step and step not in skipped:
        remember(sheet, skipped=[*skipped, step][-MOST_SKIPPED:])


def _drying_begins(sheet: Context) -> None:
    if told(sheet, "drying_since") is None:
        remember(sheet, drying_since=sheet.facts.today.isoformat())


def _plan_first_check(sheet: Context) -> None:
    """About a week after drying began; at the earliest tomorrow."""
    since = day_of(told(sheet, "drying_since")) or sheet.facts.today
    ripe = since + dt.timedelta(days=sheet.facts.county.guidance.dry_days)
    on = max(ripe, sheet.facts.today + dt.timedelta(days=1))
    remember(sheet, first_check_on=on.isoformat())
    sheet.add(ScheduleCheck(on))


def _escalate_belly(sheet: Context) -> None:
    detail = {"kind": "manufactured", "belly": str(told(sheet, "belly") or "unsure")}
    sheet.add(Escalate(EscalationReason.HOUSE_KIND, Urgency.SOON, detail))


def _escalate_landlord(sheet: Context) -> None:
    sheet.add(Escalate(EscalationReason.PERSON, Urgency.SOON, {"about": "landlord does nothing"}))


# --- readings that stall ------------------------------------------------------------------------------------------


def _stall_begins(sheet: Context) -> None:
    """Who comes back to the questions on another day goes on with what was found and answered."""
    if stall_asked_lately(sheet) and "stall" in sheet.slots:
        return
    sheet.slots["stall_asked"] = sheet.facts.today.isoformat()
    finding = next((f for f in sheet.assessment().findings if set(f.places) & set(stalled_places(sheet))), None)
    cause = {"finding": str(finding.kind), "cause": str(finding.cause)} if finding else {}
    sheet.slots["stall"] = {"places": ", ".join(stalled_places(sheet)), **cause}


def _stall_note(answer: str | None) -> Callable[[Context], None]:
    """``stall.rain`` answered: rain=yes. ``yes`` always means that something is found there."""

    def note(sheet: Context) -> None:
        looked = sheet.slots.setdefault("stall", {})
        assert isinstance(looked, dict)
        looked[str(sheet.slots.get("state", "")).partition(".")[2]] = answer or str(sheet.event.value)

    return note


def _escalate_stall(sheet: Context) -> None:
    looked = sheet.slots.get("stall", {})
    detail = dict(looked) if isinstance(looked, dict) else {}
    slow = detail.get("finding") == FindingKind.TOO_SLOW
    urgency = Urgency.ROUTINE if slow else Urgency.SOON
    sheet.add(Escalate(EscalationReason.STALLED, urgency, detail, by_an_answer=True))


# --- walls that were closed ---------------------------------------------------------------------------------------


def _closed_note(name: str) -> Callable[[Context], None]:
    def note(sheet: Context) -> None:
        closed = sheet.slots.setdefault("closed", {})
        assert isinstance(closed, dict)
        closed[name] = str(sheet.event.value)

    return note


def _walls_named(sheet: Context) -> list[str]:
    words = plain_words(sheet.event.raw)
    return [wall.id for wall in sheet.walls if stands_in(plain_words(wall.name), words)]


def _note_closed(sheet: Context) -> None:
    """The walls that the text names, or all of them: nothing that they read makes them ready to close again."""
    closed = _walls_named(sheet) or [wall.id for wall in sheet.walls]
    known = [letter for letter in str(told(sheet, "closed_told") or "").split(", ") if letter]
    if closed:
        remember(sheet, closed_told=", ".join(dict.fromkeys([*known, *closed])))


def _stop_checks(sheet: Context) -> None:
    """Nobody can push pins into a wall that is shut."""
    sheet.add(ScheduleCheck(None))


def _escalate_closed(sheet: Context) -> None:
    """With when it was closed, what it last read by their word, and the bands that we know."""
    told_of_it = sheet.slots.get("closed")
    detail: dict[str, object] = dict(told_of_it) if isinstance(told_of_it, dict) else {}
    sheet.slots["closed"] = detail
    bands = {str(v.band) for v in sheet.assessment().verdicts} if sheet.places else {"unread"}
    detail = {**detail, "bands": ", ".join(sorted(bands))}
    sheet.add(Escalate(EscalationReason.CLOSED_WHILE_WET, Urgency.URGENT, detail))


def _closed_when_ready(sheet: Context) -> None:
    ready = [wall.wall for wall in sheet.assessment().walls if wall.ready] if sheet.places else []
    named = _walls_named(sheet)
    ready = [letter for letter in ready if letter in named] or ready
    remember(sheet, closed_on=sheet.facts.today.isoformat(), closed_walls=", ".join(ready))


def _report_signs(sheet: Context) -> None:
    """Smell, stain or swelling of a closed wall: mould until somebody has looked."""
    sense = "smelt" if sheet.event.value in {"smell", "smelt"} else "seen"
    sign = str(sheet.event.value or sense)
    detail = {"sense": sense, "sign": sign, "when": "after_closing"}
    sheet.add(ReportMould(sense), Escalate(EscalationReason.MOULD, Urgency.SOON, detail))


def _look_back(*, instead_of_checks: bool) -> Callable[[Context], None]:
    """Instead of checks only when every wall met the limit: what is open still must be measured."""

    def plan(sheet: Context) -> None:
        on = sheet.facts.today + dt.timedelta(days=sheet.facts.county.guidance.look_back_days)
        remember(sheet, look_back_on=on.isoformat(), looked_back_on=None)
        every = bool(sheet.places) and all(wall.ready for wall in sheet.assessment().walls)
        sheet.add(ScheduleLookBack(on, instead_of_checks=instead_of_checks and every))

    return plan


DEEDS: dict[str, Callable[[Context], None]] = {
    **{f"stage_{stage}": _stage(stage) for stage in Stage},
    "set_water": _answer("water"),
    "water_unsure": _answer("water", "unsure"),
    "house_unsure": _answer("house_kind", "unsure"),
    "set_belly": _answer("belly"),
    "belly_unsure": _answer("belly", "unsure"),
    "set_below": _answer("foundation"),
    "below_unsure": _answer("foundation", "unsure"),
    "set_age": _answer("old_house"),
    "age_unsure": _answer("old_house", "unsure"),
    "age_old": _answer("old_house", "yes"),
    "age_new": _answer("old_house", "no"),
    "set_tap": _answer("tap"),
    "tap_unsure": _answer("tap", "unsure"),
    "set_septic": _answer("septic"),
    "septic_unsure": _answer("septic", "unsure"),
    "power_off": _answer("power_off", "yes"),
    "power_unsure": _answer("power_off", "unsure"),
    "power_checked": lambda sheet: remember(sheet, power_on=True),
    "power_not_checked": lambda sheet: remember(sheet, power_on=False),
    "no_reference": _answer("reference", "none"),
    "dirty_said": _answer("dirty_said", True),
    "walls_open": _answer("walls_open", True),
    "crawl_open": _answer("crawl_open", True),
    "open_and_dried": _answer("open_and_dried", True),
    "washed_today": _today("washed_on"),
    "landlord_asked": _today("landlord_asked_on"),
    "looked_back": _today("looked_back_on"),
    "note_skipped": _note_skipped,
    "drying_begins": _drying_begins,
    "plan_first_check": _plan_first_check,
    "escalate_belly": _escalate_belly,
    "escalate_landlord": _escalate_landlord,
    "stall_begins": _stall_begins,
    "stall_note": _stall_note(None),
    "stall_yes": _stall_note("yes"),
    "escalate_stall": _escalate_stall,
    "closed_when": _closed_note("closed"),
    "closed_last": _closed_note("last_read"),
    "closed_signs": _closed_note("signs"),
    "note_closed": _note_closed,
    "stop_checks": _stop_checks,
    "escalate_closed": _escalate_closed,
    "closed_when_ready": _closed_when_ready,
    "report_signs": _report_signs,
    "look_back_later": _look_back(instead_of_checks=False),
    "look_back_instead": _look_back(instead_of_checks=True),
}
