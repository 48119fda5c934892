"""Composed texts: what flow files can ``tell``. Each makes a list of messages from the sheet, in the order sent."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from guide_service.dialogue.context import Context
from guide_service.dialogue.events import AT_RISK, OF_THE_FLOOD, SICK, AirHeard, WhyUnclear
from guide_service.dialogue.guards_order import mould_told
from guide_service.dialogue.pending import first_unclear, numbers_wait
from guide_service.dialogue.saying import Say
from guide_service.dialogue.stages import role_of
from guide_service.dialogue.tell_verdicts import (
    may_it_be_closed,
    picture,
    status,
    verdicts,
    water_noted,
    water_undone,
    why,
)
from guide_service.dialogue.values import values_for_id
from guide_service.drying.air_advice import advise
from guide_service.drying.terms import Air


def _say(sheet: Context, id_: str) -> Say:
    return Say(id_, values_for_id(id_, sheet))


def _danger(sheet: Context) -> Sequence[Say]:
    kind = str(sheet.event.value or "life")
    return [Say(f"danger.{kind}", values_for_id(f"danger.{kind}", sheet), own_text=True)]


def _topic(sheet: Context) -> Sequence[Say]:
    if sheet.event.value == "why_not_closed" and sheet.facts.readings:
        return may_it_be_closed(sheet)
    if sheet.event.value == "open_walls" and role_of(sheet) == "renter":
        return [_say(sheet, "topic.renter")]  # no wall of a landlord's is told to be cut
    if sheet.event.value == "water_in_basement" and role_of(sheet) == "renter":
        return [_say(sheet, "topic.renter_water")]
    if sheet.event.value == "enter_house" and sheet.slots.get("state") == "order.enter":
        return []  # the question that follows says the same
    if sheet.event.value == "power_off":
        return [_say(sheet, "order.power_off")]
    if sheet.event.value == "just_flooded":
        sheet.slots["first_hours"] = True
    return [_say(sheet, f"topic.{sheet.event.value}")]


def _unwell(sheet: Context) -> Sequence[Say]:
    """Ill as the gas of engines makes ill, or as dirty water does."""
    return [_say(sheet, "unwell.sick" if sheet.event.value == SICK else "unwell.heard")]


def _first_hours(sheet: Context) -> Sequence[Say]:
    """Once, to somebody who tells in passing that the house is flooded; not where it is measured already."""
    of_the_flood = str(sheet.event.value).startswith(OF_THE_FLOOD)
    if not of_the_flood or not str(sheet.slots.get("state")).startswith("welcome."):
        return []
    if sheet.facts.readings or sheet.touched or sheet.slots.get("first_hours") is True:
        return []
    sheet.slots["first_hours"] = True
    return [_say(sheet, "topic.just_flooded")]


def _water_topic(sheet: Context) -> Sequence[Say]:
    """Somebody whose house has just flooded, or water that came back to one that was drying."""
    sheet.slots["first_hours"] = True
    return [_say(sheet, "topic.water_in_basement" if sheet.facts.readings else "topic.just_flooded")]


def _person(sheet: Context) -> Sequence[Say]:
    """True whatever the hour: claimed only when somebody has it, else when the office opens."""
    if sheet.facts.escalations.get("person") == "claimed":
        return [_say(sheet, "person.claimed")]
    return [_say(sheet, "person.open" if sheet.facts.office_open else "person.closed")]


def _language_not_yet(sheet: Context) -> Sequence[Say]:
    """Told in the language that was asked for, where there are texts in it that are not offered yet."""
    wanted = str(sheet.event.value)
    theirs = wanted if wanted in sheet.facts.county.withheld else None
    return [Say("language.not_yet", language=theirs)]


def _when_person(sheet: Context) -> Sequence[Say]:
    return [_say(sheet, "when.open" if sheet.facts.office_open else "when.closed")]


_UNCLEAR_MESSAGES = {
    WhyUnclear.TEMPERATURE: "check.temperature",
    WhyUnclear.TOO_HIGH: "check.too_high",
    WhyUnclear.NEGATIVE: "check.too_high",
    WhyUnclear.MANY_NUMBERS: "check.many",
    WhyUnclear.LETTERS_IN_NUMBER: "check.letters",
}


def _unclear_reason(sheet: Context) -> Sequence[Say]:
    first = first_unclear(sheet.slots) or {}
    why_unclear = WhyUnclear(str(first.get("why", WhyUnclear.NOT_A_READING)))
    id_ = _UNCLEAR_MESSAGES.get(why_unclear, "check.not_a_reading")
    if id_ == "check.many" and not first.get("place"):
        id_ = "check.not_a_reading"
    return [_say(sheet, id_)]


def _air_advice(sheet: Context) -> Sequence[Say]:
    """Open, close and dehumidify, or heat; and whether this air can dry the wood at all."""
    heard = sheet.event.value
    if not isinstance(heard, AirHeard):
        return []
    # what is normal for the month says nothing of today: only air that was observed is compared
    known = sheet.facts.air if sheet.facts.air.source in {"weather", "reported"} else Air()
    air = Air(
        heard.indoor_temp_c,
        heard.indoor_rh,
        known.outdoor_temp_c if heard.outdoor_temp_c is None else heard.outdoor_temp_c,
        known.outdoor_rh if heard.outdoor_rh is None else heard.outdoor_rh,
        sheet.facts.today,
        "reported",
    )
    advice = advise(air, sheet.facts.policy)
    says = [_say(sheet, f"air.{advice.ventilation}")]
    return [*says, _say(sheet, "air.cannot_dry")] if advice.cannot_dry else says


def _verdicts_again(sheet: Context) -> Sequence[Say]:
    """Only where what was answered today is another answer now."""
    return verdicts(sheet) if sheet.touched else []


def _if_much(sheet: Context) -> Sequence[Say]:
    """Where nobody said how much mould it is, what to do with a small spot is told with what makes it none."""
    return [] if mould_told(sheet).get("size") == "small" else [_say(sheet, "mould.if_much")]


def _file(sheet: Context) -> Sequence[Say]:
    return [Say(says.id, says.args, own_text=True) for says in [_say(sheet, "file.told")]]


def _place_kept(sheet: Context) -> Sequence[Say]:
    """Begins what is said to a household that was silent; a check that was begun has a nudge that names the house."""
    if _numbers_wanted(sheet):
        return []
    return [_say(sheet, "silence.again" if sheet.event.value else "silence.first")]


def _stands(sheet: Context) -> Sequence[Say]:
    """Where it stands and what to send, never the whole step once more."""
    if _numbers_wanted(sheet):
        return [_say(sheet, "check.nudge")]
    a_step = any(offer.key == "did" for offer in sheet.asked.offers)
    return [_say(sheet, "silence.step" if a_step else "silence.question")]


def _numbers_wanted(sheet: Context) -> bool:
    return str(sheet.slots.get("state")).startswith("check.") and bool(sheet.followed())


def _numbers_heard(sheet: Context) -> Sequence[Say]:
    """Numbers that come before we know who writes: what was read is answered, the rest is asked once we do."""
    told = verdicts(sheet) if sheet.touched else []
    return [*told, _say(sheet, "welcome.numbers_later")] if numbers_wait(sheet.slots) else told


def _closed_heard(sheet: Context) -> Sequence[Say]:
    """To who tells of a closed wall; told of it again, no blame is spoken of a second time."""
    known = "closed_while_wet" in sheet.facts.escalations
    return [_say(sheet, "closed.again" if known else "closed.heard")]


def _told_kept(sheet: Context) -> Sequence[Say]:
    """What was told unasked is acknowledged; of somebody at risk also what that means, once."""
    if sheet.event.value == AT_RISK:
        return [_say(sheet, "topic.kids_health")]
    return [] if sheet.says else [_say(sheet, "told.kept")]


TELLINGS: dict[str, Callable[[Context], Sequence[Say]]] = {
    "air_advice": _air_advice,
    "danger": _danger,
    "file": _file,
    "if_much_mould": _if_much,
    "water_noted": water_noted,
    "water_undone": water_undone,
    "topic": _topic,
    "unwell": _unwell,
    "first_hours": _first_hours,
    "water_topic": _water_topic,
    "language_not_yet": _language_not_yet,
    "person": _person,
    "when_person": _when_person,
    "closed_heard": _closed_heard,
    "told_kept": _told_kept,
    "numbers_heard": _numbers_heard,
    "unclear_reason": _unclear_reason,
    "verdicts": verdicts,
    "verdicts_again": _verdicts_again,
    "picture": picture,
    "place_kept": _place_kept,
    "stands": _stands,
    "status": status,
    "why": why,
}
