"""What a household is told when its meter was found to read wrong, and what follows from it. Pure.

The readings are marked already; what stands without them is weighed here. First it is said that the meter reads wrong,
then which walls had been called ready and which places dry by it, then what to do, and the next check.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from guide_service.dialogue.context import Context
from guide_service.dialogue.effects import Effect, Escalate, EscalationReason, ScheduleCheck, Urgency
from guide_service.dialogue.events import Asked
from guide_service.dialogue.facts import Facts
from guide_service.dialogue.labels import in_order
from guide_service.dialogue.outcome import store_assessment
from guide_service.dialogue.saying import Say
from guide_service.dialogue.stages import Stage
from guide_service.dialogue.tell_bands import MOST_LISTED
from guide_service.dialogue.tell_walls import MOST_WALLS
from guide_service.drying.terms import Band
from guide_service.wording.formats import capital
from guide_service.wording.messages import Message


@dataclass(frozen=True, slots=True)
class SaidBefore:
    """What had been said by numbers of the meter."""

    ready: tuple[str, ...] = ()
    """Letters of walls that were said to meet the limit."""
    dry: tuple[str, ...] = ()
    """Labels of places whose last verdict was dry."""


@dataclass(frozen=True, slots=True)
class TakenBack:
    effects: tuple[Effect, ...]
    says: tuple[Say, ...]
    walls: tuple[str, ...]
    """Letters of the walls that do not meet the limit without those numbers."""
    names: tuple[str, ...]
    """What these walls are called."""
    closed: bool
    """Whether the household has told us that walls are closed."""


def meter_recalled(
    facts: Facts, messages: Mapping[str, Message], recall: str, still_wrong: bool, before: SaidBefore
) -> TakenBack:
    """``recall``: id of the recall; ``still_wrong``: the meter is not in order again."""
    sheet = Context.of(facts, {}, Asked(), messages)
    measured = {reading.place for reading in facts.readings if reading.recall == recall}
    touched = tuple(place.label for place in sheet.places if place.label in measured)
    closed = has_closed(facts)
    if touched:
        store_assessment(sheet, touched)
        _check_from_tomorrow_on(sheet, closed)
    ready_now = {wall.wall for wall in sheet.assessment().walls if wall.ready}
    lost = tuple(letter for letter in before.ready if letter not in ready_now)
    names = tuple(capital(sheet.wall_name(letter)) for letter in lost)
    if lost or (closed and touched):
        detail = {"walls": ", ".join(names), "closed": "yes" if closed else "not told"}
        sheet.add(Escalate(EscalationReason.METER_RECALLED, Urgency.URGENT, detail))
    says = [*_heard(facts, touched), *_walls(facts, names, closed and bool(touched)), *_dry(sheet, before, lost)]
    if touched and not lost and not closed:
        says.append(Say("recall.keep_open"))
    if still_wrong:
        says.append(Say("recall.stop_using"))
    return TakenBack(tuple(sheet.effects), (*says, *_next_check(sheet)), lost, names, closed)


NAMES_NOTHING = frozenset({"recall.heard", "recall.holds", "recall.closed", "recall.keep_open", "recall.stop_using"})


def without_names(says: tuple[Say, ...]) -> tuple[Say, ...]:
    """For a phone that was silent for so long that it may be somebody else's: nothing of the house is named."""
    kept = tuple(say for say in says if say.id in NAMES_NOTHING)
    names_walls = any(say.id == "recall.ready" for say in says)
    return (kept[0], Say("recall.keep_open"), *kept[1:]) if names_walls else kept


def has_closed(facts: Facts) -> bool:
    """It told us so, or it stands behind the closing."""
    return bool(facts.household.get("closed_on")) or facts.stage == Stage.AFTERWARDS


def _check_from_tomorrow_on(sheet: Context, closed: bool) -> None:
    """Not today: another meter has to be found first. Where all is closed and no check was planned, none is."""
    planned = [effect for effect in sheet.effects if isinstance(effect, ScheduleCheck)]
    sheet.effects[:] = [effect for effect in sheet.effects if not isinstance(effect, ScheduleCheck)]
    on = planned[-1].on if planned else None
    if on is not None and not (closed and sheet.facts.next_check_on is None):
        sheet.add(ScheduleCheck(max(on, sheet.facts.today + dt.timedelta(days=1))))


def _heard(facts: Facts, touched: tuple[str, ...]) -> list[Say]:
    return [Say("recall.heard" if touched else "recall.holds", {"office": facts.county.office_name})]


def _walls(facts: Facts, names: tuple[str, ...], closed: bool) -> list[Say]:
    says = [Say("recall.ready", {"wall": name}) for name in names[:MOST_WALLS]]
    return [*says, Say("recall.closed", {"office": facts.county.office_name})] if says or closed else []


def _dry(sheet: Context, before: SaidBefore, lost: tuple[str, ...]) -> list[Say]:
    """Places outside the walls that are taken back, which nothing else says to be dry."""
    said_above = {place.label for place in sheet.places if place.wall in lost}
    labels = [label for label in before.dry if label not in said_above and not _still_dry(sheet, label)]
    return [Say("recall.dry", {"list": ", ".join(in_order(labels)[:MOST_LISTED])})] if labels else []


def _still_dry(sheet: Context, label: str) -> bool:
    verdict = sheet.verdict(label)
    return verdict is not None and verdict.band == Band.DRY


def _next_check(sheet: Context) -> list[Say]:
    planned = [effect.on for effect in sheet.effects if isinstance(effect, ScheduleCheck) and effect.on]
    on = planned[-1] if planned else sheet.facts.next_check_on
    return [Say("next_check", {"date": on})] if on else []
